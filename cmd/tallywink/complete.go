package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/trainer/card"
)

// The program itself does the completion: a shell's script asks 'tallywink complete --
// words...' what can replace the last word, and gets one candidate per line. A last line
// of completeFiles means that file names are possible, too.
const completeFiles = "+paths"

// shells holds the completion script for each shell. Each passes on the words up to the
// cursor.
var shells = map[string]string{
	"bash": `# bash: put this into a file that your shell reads, or: source <(tallywink completion bash)
_tallywink() {
	local current=${COMP_WORDS[COMP_CWORD]} line
	COMPREPLY=()
	while IFS= read -r line; do
		if [[ $line == +paths ]]; then
			compopt -o filenames
			while IFS= read -r line; do COMPREPLY+=("$line"); done < <(compgen -f -- "$current")
		else
			COMPREPLY+=("$line")
		fi
	done < <(tallywink complete -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
}
complete -F _tallywink tallywink
`,
	"zsh": `#compdef tallywink
# zsh: save it as _tallywink in a folder of $fpath, or: source <(tallywink completion zsh)
_tallywink() {
	local -a found
	found=("${(@f)$(tallywink complete -- "${(@)words[2,CURRENT]}" 2>/dev/null)}")
	if [[ ${found[-1]} == +paths ]]; then
		found[-1]=()
		_files
	fi
	compadd -- "${(@)found:#}"
}
if [[ $funcstack[1] == _tallywink ]]; then _tallywink "$@"; else compdef _tallywink tallywink; fi
`,
	"fish": `# fish: save it as ~/.config/fish/completions/tallywink.fish, or: tallywink completion fish | source
function __tallywink_complete
	set -l words (commandline -opc) (commandline -ct)
	for line in (tallywink complete -- $words[2..-1] 2>/dev/null)
		if test "$line" = '+paths'
			__fish_complete_path (commandline -ct)
		else
			echo $line
		end
	end
end
complete -c tallywink -f -a '(__tallywink_complete)'
`,
	"powershell": `# PowerShell: put this into your profile, or: tallywink completion powershell | Out-String | Invoke-Expression
Register-ArgumentCompleter -Native -CommandName tallywink -ScriptBlock {
	param($word, $ast, $cursor)
	$words = @($ast.CommandElements | Select-Object -Skip 1 | Where-Object { $_.Extent.EndOffset -lt $cursor } | ForEach-Object { $_.ToString() }) + @($word)
	foreach ($line in (& tallywink complete '--' @words 2>$null)) {
		if ($line -eq '+paths') {
			Get-ChildItem -Path "$word*" -ErrorAction SilentlyContinue | ForEach-Object { [System.Management.Automation.CompletionResult]::new($_.Name) }
		} else {
			[System.Management.Automation.CompletionResult]::new($line)
		}
	}
}
`,
}

// completion answers 'tallywink completion SHELL'.
func completion(args []string, s console.Streams) int {
	if len(args) == 1 {
		if script, ok := shells[args[0]]; ok {
			return showExactly(s, script)
		}
	}
	fmt.Fprintln(s.Err,
		"tallywink completion: name your shell\n  bash, zsh, fish or powershell; each script starts by saying where to put it")
	return exitUnfit
}

// complete answers 'tallywink complete -- words...'.
func complete(args []string, s console.Streams) int {
	if len(args) > 0 && args[0] == "--" {
		args = args[1:]
	}
	if len(args) == 0 {
		args = []string{""}
	}
	var b strings.Builder
	for _, c := range candidates(args) {
		if c == completeFiles || strings.HasPrefix(c, args[len(args)-1]) {
			b.WriteString(c + "\n")
		}
	}
	_, err := io.WriteString(s.Out, b.String())
	if err != nil {
		return exitUnfit
	}
	return exitWell
}

// programWords are the words that the program accepts besides its commands.
var programWords = []string{"help", "man", "completion"}

// candidates returns what can replace the last word.
func candidates(words []string) []string {
	last := words[len(words)-1]
	if len(words) == 1 {
		return append(commandNames(), programWords...)
	}
	switch words[0] {
	case "help":
		return commandNames()
	case "completion":
		return []string{"bash", "zsh", "fish", "powershell"}
	}
	i := slices.Index(commandNames(), words[0])
	if i < 0 {
		return nil
	}
	flags := pflag.NewFlagSet(words[0], pflag.ContinueOnError)
	commands[i].setup(flags)
	flags.Bool("help", false, "")
	flags.Bool("no-color", false, "")
	if usesSettings[commands[i].name] != nil {
		flags.Bool("no-settings", false, "")
	}
	if before := words[len(words)-2]; len(words) > 2 && strings.HasPrefix(before, "--") {
		if f := flags.Lookup(before[2:]); f != nil && f.Value.Type() != "bool" {
			return valuesOf(f)
		}
	}
	if name, _, ok := strings.Cut(last, "="); ok && strings.HasPrefix(name, "--") {
		var whole []string
		if f := flags.Lookup(name[2:]); f != nil {
			for _, v := range valuesOf(f) {
				if v != completeFiles {
					whole = append(whole, name+"="+v)
				}
			}
		}
		return whole
	}
	if strings.HasPrefix(last, "-") {
		var names []string
		flags.VisitAll(func(f *pflag.Flag) { names = append(names, "--"+f.Name) })
		return names
	}
	return positional(words)
}

// valuesOf returns the values that a flag accepts.
func valuesOf(f *pflag.Flag) []string {
	value, _ := pflag.UnquoteUsage(f)
	switch f.Name {
	case "lineup", "before":
		return append(demo.Lineups(), completeFiles)
	case "amps":
		return append(demo.Inventories(), completeFiles)
	case "sheet":
		return []string{sheet.TallyName, sheet.CurlewName, completeFiles}
	case "state":
		return strings.Split(stateList(), ", ")
	case "edge-end":
		return []string{"low", "high"}
	case "plan":
		var names []string
		for _, p := range channelplan.Plans() {
			names = append(names, p.String())
		}
		return names
	case "paper":
		var names []string
		for _, p := range card.Formats() {
			names = append(names, p.Name)
		}
		return names
	}
	if value == "FILE" {
		return []string{completeFiles}
	}
	return nil
}

// positional returns what can be used as an argument.
func positional(words []string) []string {
	var before []string // arguments that do not belong to a flag
	for i, w := range words[1 : len(words)-1] {
		if !strings.HasPrefix(w, "-") && (i == 0 || !strings.HasPrefix(words[i], "--")) {
			before = append(before, w)
		}
	}
	channels := func() []string {
		var all []string
		for n := channelplan.FirstChannel; n <= channelplan.LastExtended; n++ {
			all = append(all, fmt.Sprint(n))
		}
		return all
	}
	kinds := func() []string {
		var all []string
		for _, k := range channelplan.PilotKinds() {
			all = append(all, k.String())
		}
		return all
	}
	switch words[0] {
	case "encode", "check":
		switch len(before) {
		case 0:
			return channels()
		case 1:
			return kinds()
		}
	case "plan":
		return channels()
	case "lineup", "rank", "card":
		return append(demo.Lineups(), completeFiles)
	case "sheet":
		return []string{sheet.TallyName, sheet.CurlewName, completeFiles}
	case "audit", "cutover", "season":
		return []string{demo.Name}
	}
	return nil
}
