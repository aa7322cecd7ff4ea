package manual

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/wording"
)

// manualDay is when the manual's text was last gone through, for a build that does not
// know its own day.
var manualDay = time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC)

// Command is a command, as the manual page describes it.
type Command struct {
	Name, Summary, Help string
	Flags               *pflag.FlagSet
}

// Page returns the manual page in mdoc, made from the commands' help and the manual's
// topics. The day is that of the build, or zero if it is not known.
func Page(commands []Command, day time.Time) string {
	var b strings.Builder
	if day.IsZero() {
		day = manualDay
	}
	fmt.Fprintf(&b, ".Dd %s\n", day.Format("January 2, 2006"))
	b.WriteString(`.Dt TALLYWINK 1
.Os
.Sh NAME
.Nm tallywink
.Nd read the lamp of a coax amplifier's AGC, and judge its pilot
.Sh SYNOPSIS
.Nm
.Ar command
.Op Ar arguments
.Sh DESCRIPTION
.Nm
reads the lamp of a coax amplifier's AGC: which pilot, which state, whether that
pilot is valid in the system's lineup, and what to do next.
The commands are:
.Bl -tag -width Ds
`)
	for _, c := range commands {
		fmt.Fprintf(&b, ".It Cm %s\n%s", c.Name, manText(wording.Sentence(c.Summary)))
	}
	b.WriteString(".El\n")
	for _, c := range commands {
		fmt.Fprintf(&b, ".Ss %s: %s\n", c.Name, roff(c.Summary))
		b.WriteString(manHelp(c.Help))
		if c.Flags.HasFlags() {
			b.WriteString(".Bl -tag -width Ds\n")
			c.Flags.VisitAll(func(f *pflag.Flag) {
				value, text := pflag.UnquoteUsage(f)
				fmt.Fprintf(&b, ".It Fl Fl %s", f.Name)
				if f.Value.Type() != "bool" {
					fmt.Fprintf(&b, " Ar %s", roff(value))
				}
				fmt.Fprintf(&b, "\n%s", manText(text))
			})
			b.WriteString(".El\n")
		}
	}
	b.WriteString(".Ss man, completion, help\n" +
		manText("'tallywink man' prints this page, 'tallywink help COMMAND' a part of it. "+
			"'tallywink completion bash' (zsh, fish, powershell) prints a script that completes commands, flags, channels and files; it starts by saying where to put it."))
	for _, name := range Names() {
		file, err := Files.ReadFile("topics/" + name + ".md")
		if err != nil {
			panic(err) // it is embedded
		}
		b.WriteString(manTopic(name, string(file)))
	}
	b.WriteString(`.Sh ENVIRONMENT
.Bl -tag -width Ds
.It Ev NO_COLOR
No color, whatever the output is.
.It Ev XDG_DATA_HOME
Where books are kept, in a folder tallywink.
.El
.Sh EXIT STATUS
0 if all is well, 1 if the answer is bad news, 2 if the command or its
input can't be used, 130 after an interrupt.
.Sh CAVEATS
Work at heights or on powered plant only as local codes, your employer and your
training allow.
Changing an AGC setting moves the levels of everyone downstream.
If you are sensitive to flashing light, have someone else read the lamp.
`)
	return b.String()
}

// mdoc is a part of the manual page that is being written, a line of text at a time.
type mdoc struct {
	strings.Builder
	text    []string // of the current paragraph so far
	literal bool     // lines are shown as they are
}

// end ends a paragraph or what is literal.
func (m *mdoc) end() {
	if m.literal {
		m.WriteString(".Ed\n")
	}
	if len(m.text) > 0 {
		m.WriteString(".Pp\n" + manText(strings.Join(m.text, " ")))
	}
	m.literal, m.text = false, nil
}

// line adds a line that is shown as it is.
func (m *mdoc) line(text string) {
	if !m.literal {
		m.end()
		m.WriteString(".Bd -literal -offset indent\n")
		m.literal = true
	}
	m.WriteString(roff(text) + "\n")
}

// words adds to a paragraph.
func (m *mdoc) words(text string) {
	if m.literal {
		m.end()
	}
	m.text = append(m.text, text)
}

// manTopic converts a topic of the manual to mdoc: its title becomes a section, examples
// and indented lines are literal, and so are tables, whose rows become paragraphs.
func manTopic(name, markdown string) string {
	var m mdoc
	example := false
	quoted := func(text string) string { return strings.ReplaceAll(text, "`", "'") }
	for line := range strings.SplitSeq(strings.TrimRight(markdown, "\n"), "\n") {
		title, isTitle := strings.CutPrefix(line, "# ")
		row, isRow := strings.CutPrefix(line, "| ")
		switch {
		case strings.HasPrefix(line, "```"):
			m.end()
			example = !example
		case example:
			m.line(line)
		case isTitle:
			fmt.Fprintf(&m, ".Sh %s\n", roff(strings.ToUpper(name)))
			m.WriteString(manText(wording.Sentence(quoted(title))))
		case strings.TrimSpace(line) == "":
			m.end()
		case strings.HasPrefix(line, "|-"):
		case isRow:
			m.end()
			cells := strings.Split(strings.TrimSuffix(strings.TrimSpace(row), "|"), " | ")
			for i, c := range cells {
				cells[i] = strings.TrimSpace(c)
			}
			m.words(quoted(strings.Trim(strings.Join(cells, ": "), ": ")))
			m.end()
		case strings.HasPrefix(line, "    "):
			m.line(line[4:])
		default:
			m.words(quoted(line))
		}
	}
	m.end()
	return m.String()
}

// manHelp converts a command's help to mdoc: indented lines are examples, a blank line
// separates paragraphs.
func manHelp(help string) string {
	var m mdoc
	for line := range strings.SplitSeq(strings.TrimRight(help, "\n"), "\n") {
		example, setIn := strings.CutPrefix(line, "  ")
		switch {
		case strings.TrimSpace(line) == "":
			m.end()
		case setIn:
			m.line(example)
		default:
			m.words(line)
		}
	}
	m.end()
	return m.String()
}

// manText breaks a text into lines and starts a new line for each sentence, as mdoc
// requires.
func manText(text string) string {
	const width = 70
	var b strings.Builder
	var sentence []string
	words := strings.Fields(text)
	for i, word := range words {
		sentence = append(sentence, word)
		if i < len(words)-1 && !(len(word) > 2 && strings.ContainsRune(".?!", rune(word[len(word)-1]))) {
			continue
		}
		for _, line := range wording.Wrap(strings.Join(sentence, " "), width) {
			b.WriteString(roff(line) + "\n")
		}
		sentence = nil
	}
	return b.String()
}

// roff escapes text for a manual page: a backslash stays one, a hyphen can be copied, and
// no line is taken for a request.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(text)
	if strings.HasPrefix(text, ".") || strings.HasPrefix(text, "'") {
		text = `\&` + text
	}
	return text
}
