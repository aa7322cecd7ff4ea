package lesson

import (
	"fmt"
	"slices"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/picture"
	"tallywink.example/trainer/progress"
)

// Unsure is the answer of a trainee who does not know: it is wrong, but not a
// misreading.
const Unsure = progress.Unsure

// Entry is an answer while it is being typed.
type Entry struct {
	question Question
	channel  string
	carrier  string
	hundred  bool
	choice   int // from 1; 0 if none
	yesNo    string
	marks    string
	unsure   bool
}

// NewEntry begins an answer to a question.
func NewEntry(q Question) Entry { return Entry{question: q} }

// Type takes a key, and reports whether it was accepted.
func (e *Entry) Type(key rune) bool {
	if key == 'u' {
		*e = Entry{question: e.question, unsure: true}
		return true
	}
	before := *e
	e.unsure = false
	digit := key >= '0' && key <= '9'
	switch e.question.Way {
	case ByDigit:
		if digit {
			e.channel = string(key)
		}
	case ByPilot, ByHead:
		switch {
		case e.question.kindOf(key) != "":
			e.carrier = e.question.kindOf(key)
		case e.question.Way == ByHead && key == '1' && e.question.Hundreds:
			e.hundred = !e.hundred
			return true
		case e.question.Way == ByPilot && digit && len(e.channel) < 3:
			e.channel += string(key)
		}
	case ByYesNo:
		switch key {
		case 'y':
			e.yesNo = "yes"
		case 'n':
			e.yesNo = "no"
		}
	case ByState, ByOption:
		if n := int(key - '0'); digit && e.question.Way == ByState && n == 0 {
			e.choice = 10
		} else if digit && n >= 1 && n <= e.choices() {
			e.choice = n
		}
	case BySending:
		switch key {
		case '.', ',', 's':
			e.marks += "."
		case '_', '-', 'l':
			e.marks += "_"
		}
	}
	changed := e.channel != before.channel || e.carrier != before.carrier || e.choice != before.choice ||
		e.yesNo != before.yesNo || e.marks != before.marks
	return changed || before.unsure && e.unsure != before.unsure
}

func (e *Entry) choices() int {
	if e.question.Way == ByState {
		return len(e.question.States)
	}
	return len(e.question.Options)
}

// Erase undoes the last key.
func (e *Entry) Erase() {
	switch {
	case e.unsure:
		e.unsure = false
	case e.question.Way == ByPilot && e.carrier != "":
		e.carrier = ""
	case e.question.Way == ByPilot && e.channel != "":
		e.channel = e.channel[:len(e.channel)-1]
	case e.question.Way == BySending && e.marks != "":
		e.marks = e.marks[:len(e.marks)-1]
	default:
		*e = Entry{question: e.question}
	}
}

// Answer returns the answer, and reports whether it is complete. Marks that the trainee
// sends are judged by their times, which are not known here: set that answer with
// [Entry.SetSent].
func (e *Entry) Answer() (string, bool) {
	if e.unsure {
		return Unsure, true
	}
	switch e.question.Way {
	case ByDigit:
		return e.channel, e.channel != ""
	case ByPilot:
		var n int
		fmt.Sscan(e.channel, &n) // digits only: anything that is not a number stays 0
		return fmt.Sprintf("%d %s", n, e.carrier), e.carrier != "" && n > 0
	case ByHead:
		return e.carrier + map[bool]string{true: "+100"}[e.hundred], e.carrier != ""
	case ByYesNo:
		return e.yesNo, e.yesNo != ""
	case ByState:
		if e.choice == 0 {
			return "", false
		}
		return stateWord(e.question.States[e.choice-1]), true
	case ByOption:
		if e.choice == 0 {
			return "", false
		}
		if meant := e.question.Meant; meant != nil {
			return meant[e.choice-1], true
		}
		return e.question.Options[e.choice-1], true
	}
	return e.marks, e.marks != ""
}

// SetSent sets the marks that were sent, split into groups by their times.
func (e *Entry) SetSent(look blink.Frame) { e.marks = look.String() }

// Marks returns how many marks were sent.
func (e *Entry) Marks() int { return len(e.marks) }

// Text returns the answer as typed so far, for the screen.
func (e *Entry) Text() string {
	if e.unsure {
		return "not sure"
	}
	switch e.question.Way {
	case ByPilot:
		return strings.TrimSpace(e.channel + " " + e.carrier)
	case ByHead:
		if e.hundred {
			return strings.TrimSpace(e.carrier + " 100 or more")
		}
		return e.carrier
	case ByState:
		if e.choice > 0 {
			s := e.question.States[e.choice-1]
			return s.State.NameAt(s.End)
		}
		return ""
	case ByOption:
		if e.choice > 0 {
			return fmt.Sprint(e.choice)
		}
		return ""
	}
	answer, _ := e.Answer()
	return answer
}

// kindOf returns the kind of carrier that a key selects by its first letter, or "" if
// it does not select one.
func (q Question) kindOf(key rune) string {
	for _, k := range q.Kinds {
		if word := k.String(); rune(word[0]) == key {
			return word
		}
	}
	return ""
}

// kindKeys says which key selects which kind: 'a for analog, d for digital, c for cw'.
func (q Question) kindKeys() string {
	var keys []string
	for _, k := range q.Kinds {
		keys = append(keys, k.String()[:1]+" for "+k.String())
	}
	return strings.Join(keys, ", ")
}

// Keys says which keys answer a question.
func (q Question) Keys() string {
	switch q.Way {
	case ByDigit:
		return "Type the digit, 0 to 9"
	case ByPilot:
		return "Type the channel, then " + q.kindKeys()
	case ByHead:
		if q.Hundreds {
			return "Type " + q.kindKeys() + ". From channel 100 on, type a 1 too"
		}
		return "Type " + q.kindKeys()
	case ByYesNo:
		return "Type y for yes, n for no"
	case ByState:
		if n := len(q.States); n < 10 {
			return fmt.Sprintf("Type the number of the state, 1 to %d", n)
		}
		return "Type the number of the state"
	case BySending:
		return "Tap . for a short pulse, _ for a long one"
	}
	return fmt.Sprintf("Type a number, 1 to %d", len(q.Options))
}

// Letters returns the keys that type an answer.
func (q Question) Letters() string {
	const digits = "1234567890"
	kinds := ""
	for _, k := range q.Kinds {
		kinds += k.String()[:1]
	}
	switch q.Way {
	case ByDigit:
		return digits
	case ByPilot:
		return digits + kinds
	case ByHead:
		if q.Hundreds {
			return kinds + "1"
		}
		return kinds
	case ByYesNo:
		return "yn"
	case ByState:
		return digits[:min(len(q.States), len(digits))]
	case ByOption:
		return digits[:len(q.Options)]
	}
	return "._"
}

// Choices returns the lines to choose from, with their keys, or nil if there are none.
func (q Question) Choices() []string {
	var lines []string
	switch q.Way {
	case ByState:
		for i, s := range q.States {
			lines = append(lines, fmt.Sprintf("%d %s", (i+1)%10, s.State.NameAt(s.End)))
		}
	case ByOption:
		for i, o := range q.Options {
			lines = append(lines, fmt.Sprintf("%d %s", i+1, o))
		}
	}
	return lines
}

// Feedback is what the trainee sees after an answer.
type Feedback struct {
	Right bool
	// Unsure reports that the trainee was not sure, which is not a misreading.
	Unsure bool
	Lines  []string // what was shown and what was read, in words
	// Shown and Read are timelines, one character per unit, '#' lit. Differ marks with '^'
	// where they differ. All are empty if there is nothing to draw, and all but Shown if
	// nothing was read.
	Shown, Read, Differ string
}

// Judge judges an answer.
func (q Question) Judge(code *blink.Code, answer string) Feedback {
	f := Feedback{Right: answer == q.Want, Unsure: answer == Unsure}
	if f.Right {
		f.Lines = q.Why
		return f
	}
	read, ok := q.frameOf(code, answer)
	switch {
	case answer == Unsure && (q.Way == ByOption || q.Way == ByYesNo || q.Way == BySending):
		// What is right follows.
	case answer == Unsure:
		f.Lines = append(f.Lines, fmt.Sprintf("It was %s.", q.words(q.Want)))
	case q.Way == ByOption:
		f.Lines = append(f.Lines, "You answered: "+q.words(answer))
	case q.Way == ByYesNo:
		f.Lines = append(f.Lines, fmt.Sprintf("You answered %s.", answer))
	case q.Way == ByDigit:
		shown, taken := q.Want[0]-'0', answer[0]-'0'
		f.Lines = append(f.Lines, fmt.Sprintf("This was %s, %s. You answered %s: %s.", digitName(int(shown)),
			code.Patterns[shown].Words(), digitName(int(taken)), code.Patterns[taken].Words()))
	case q.Way == ByPilot && ok:
		f.Lines = append(f.Lines, fmt.Sprintf("It was %s: you read %s.", q.Want, answer))
		f.Lines = append(f.Lines, differing(code, q, answer, read)...)
	case q.Way == BySending:
		f.Lines = append(f.Lines, fmt.Sprintf("Wanted %s - sent %s", q.Want, answer))
	default:
		f.Lines = append(f.Lines, fmt.Sprintf("It was %s: you answered %s.", q.words(q.Want), q.words(answer)))
	}
	if q.Way != ByDigit || !ok {
		f.Lines = append(f.Lines, q.Why...)
	}
	switch {
	case ok:
		f.Shown, f.Read, f.Differ = compared(code, q.Frame, read)
	case answer == Unsure && len(q.Frame) > 0:
		f.Shown = timeline(code, q.Frame)
	}
	return f
}

// words returns an answer as it is said to the trainee.
func (q Question) words(answer string) string {
	switch q.Way {
	case ByOption:
		if i := slices.Index(q.Meant, answer); i >= 0 {
			return q.Options[i]
		}
	case ByState:
		for _, s := range q.States {
			if stateWord(s) == answer {
				return s.State.NameAt(s.End)
			}
		}
	case ByHead:
		if kind, over := strings.CutSuffix(answer, "+100"); over {
			return kind + ", channel 100 or more"
		}
	}
	return answer
}

// differing says, group by group, what was shown and what was read. It skips the check
// digit, which is not part of the answer: it follows from the rest.
func differing(code *blink.Code, q Question, answer string, read blink.Frame) []string {
	shown, ok := parsePilot(q.Want)
	taken, ok2 := parsePilot(answer)
	if !ok || !ok2 {
		return nil
	}
	var lines []string
	for i, rule := range code.Rules(shown) {
		j := slices.Index(code.Rules(taken), rule)
		switch {
		case rule.From == blink.FromCheck:
		case j < 0:
			lines = append(lines, fmt.Sprintf("There is a %s group, %s: you did not read one.", rule.Name,
				q.Frame[i].Words()))
		case read[j] != q.Frame[i]:
			lines = append(lines, fmt.Sprintf("The %s is %s: you read %s.", rule.Name, q.Frame[i].Words(),
				read[j].Words()))
		}
	}
	return lines
}

// compared draws two frames one below the other, group by group, and marks where they
// differ.
func compared(code *blink.Code, shown, read blink.Frame) (a, b, differ string) {
	gap := strings.Repeat(" ", code.Timing.GroupGap)
	for i := range max(len(shown), len(read)) {
		var x, y string
		if i < len(shown) {
			x = timeline(code, shown[i:i+1])
		}
		if i < len(read) {
			y = timeline(code, read[i:i+1])
		}
		if i > 0 {
			a, b, differ = a+gap, b+gap, differ+gap
		}
		width := max(len(x), len(y))
		a += fmt.Sprintf("%-*s", width, x)
		b += fmt.Sprintf("%-*s", width, y)
		differ += fmt.Sprintf("%-*s", width, differences(x, y))
	}
	return strings.TrimRight(a, " "), strings.TrimRight(b, " "), strings.TrimRight(differ, " ")
}

// timeline draws marks, one character per unit.
func timeline(code *blink.Code, frame blink.Frame) string {
	return picture.Line(code.Light(frame, code.Timing.Unit), code.Timing.Unit)
}

func differences(a, b string) string {
	marks := make([]byte, max(len(a), len(b)))
	for i := range marks {
		marks[i] = ' '
		if i >= len(a) || i >= len(b) || a[i] != b[i] {
			marks[i] = '^'
		}
	}
	return strings.TrimRight(string(marks), " ")
}
