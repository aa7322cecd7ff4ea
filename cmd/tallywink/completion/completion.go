// Package completion is how shells complete the program's command line: a script for each
// shell, and the program's own answer to what can replace the last word.
package completion

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/settings"
	"tallywink.example/trainer/card"
)

// Paths is a last candidate that means that file names are possible, too.
const Paths = "+paths"

// Scripts holds the completion script for each shell. Each passes on the words up to the
// cursor.
var Scripts = map[string]string{
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

// Program is what completion has to know about the program.
type Program struct {
	Words    []string // what it accepts as its first word
	Commands []string // those of them that have flags
	// Flags returns the flags of a command.
	Flags func(command string) *pflag.FlagSet
}

// Candidates returns what can replace the last word of a command line, which a shell's script
// asks for as 'tallywink complete -- words...'.
func (p Program) Candidates(words []string) []string {
	if len(words) == 0 {
		words = []string{""}
	}
	return slices.DeleteFunc(p.all(words), func(c string) bool {
		return c != Paths && !strings.HasPrefix(c, words[len(words)-1])
	})
}

// all returns what can stand in the last word's place, whatever was typed of it.
func (p Program) all(words []string) []string {
	last := words[len(words)-1]
	if len(words) == 1 {
		return slices.Clone(p.Words)
	}
	switch words[0] {
	case "help":
		return slices.Clone(p.Commands)
	case "completion":
		return []string{"bash", "zsh", "fish", "powershell"}
	}
	if !slices.Contains(p.Commands, words[0]) {
		return nil
	}
	flags := p.Flags(words[0])
	flags.Bool("help", false, "")
	flags.Bool("no-color", false, "")
	if settings.Used(words[0]) {
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
				if v != Paths {
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
		return append(demo.Lineups(), Paths)
	case "amps":
		return append(demo.Inventories(), Paths)
	case "sheet":
		return []string{sheet.TallyName, sheet.CurlewName, Paths}
	case "state":
		return strings.Split(input.StateList(), ", ")
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
		return []string{Paths}
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
		return append(demo.Lineups(), Paths)
	case "sheet":
		return []string{sheet.TallyName, sheet.CurlewName, Paths}
	case "audit", "cutover", "season":
		return []string{demo.Name}
	}
	return nil
}
