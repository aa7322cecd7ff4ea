package lineup

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/carrier"
	"tallywink.example/channelplan/spell"
)

// Mode is how an amplifier is meant to hold its level.
type Mode uint8

// The modes.
const (
	AGC      Mode = iota // by its pilot
	OpenLoop             // by temperature compensation, no pilot
	HandSet              // by hand
	modeCount
)

var modeWords = [modeCount]string{"agc", "thermal", "manual"}

// String returns agc, thermal or manual, or nothing for what is no mode.
func (m Mode) String() string {
	if m >= modeCount {
		return ""
	}
	return modeWords[m]
}

// Amplifier is an amplifier's record in an inventory, as far as a pilot is
// judged by it.
type Amplifier struct {
	Line  int    // in the file
	ID    string // as the inventory writes it
	Node  string // "" where it does not say
	Pilot Pilot  // the pilot it is recorded with; the zero Pilot where none is
	Spare Pilot  // its spare pilot; the zero Pilot where none is
	Mode  Mode
	// Passband is the amplifier's own; zero where the record does not say.
	Passband Band
	Upstream string // the amplifier before it
	Role     Role   // which pilot of the cascade it follows
}

// Role is which of a system's pilots an amplifier follows.
type Role uint8

// The roles.
const (
	MainPilot  Role = iota // the usual one, high in the band
	LowPilot               // the lower of two, for slope
	SparePilot             // the one in reserve
	roleCount
)

var roleWords = [roleCount]string{"main", "low", "spare"}

// ErrNoAmplifier is what [FindAmplifier] wraps where an inventory lists no
// such amplifier.
var ErrNoAmplifier = errors.New("no such amplifier")

// LoadAmplifier finds one amplifier in an inventory file: [FindAmplifier].
func LoadAmplifier(path, id string) (Amplifier, error) {
	f, err := openFile(path)
	if err != nil {
		return Amplifier{}, err
	}
	defer f.Close()
	return FindAmplifier(f, path, id)
}

// FindAmplifier reads an inventory and returns the amplifier asked for, which
// must stand in it once; file is the name for messages. IDs are compared in
// any case. The error is a [*FileError], or wraps [ErrNoAmplifier] and
// suggests the nearest ID.
func FindAmplifier(r io.Reader, file, id string) (Amplifier, error) {
	t, err := newTable(r, file)
	if err != nil {
		return Amplifier{}, err
	}
	id = strings.TrimSpace(id)
	near := ""
	var record *Amplifier
	for {
		line, err := t.readLine()
		if err == io.EOF {
			break
		}
		if err != nil {
			return Amplifier{}, err
		}
		bare := strings.Trim(line, ",;\t \"")
		if bare == "" || strings.HasPrefix(bare, "#") {
			continue
		}
		if t.header == nil {
			if err := t.readHeader(line); err != nil {
				return Amplifier{}, err
			}
			if err := t.needs("amp", "channel", "carrier"); err != nil {
				return Amplifier{}, err
			}
			if err := t.misspelt(inventoryColumns); err != nil {
				return Amplifier{}, err
			}
			continue
		}
		fields, problem := t.split(line)
		if problem != nil {
			// Another amplifier's row is not in this one's way, unless this ID
			// stands in it.
			if i := t.at["amp"]; strings.EqualFold(strings.Trim(nth(strings.Split(line, string(t.comma)), i), ` "`), id) {
				return Amplifier{}, &FileError{file, problem.Line, problem.Column, problem.Text, "correct the row"}
			}
			continue
		}
		found := t.value(fields, "amp").text
		if strings.EqualFold(found, id) {
			if record != nil {
				return Amplifier{}, &FileError{file, t.line, t.value(fields, "amp").column,
					fmt.Sprintf("%s stands twice, first on line %d", found, record.Line), "keep the row that is right"}
			}
			a, err := t.amplifier(fields)
			if err != nil {
				return Amplifier{}, err
			}
			record = &a
			continue
		}
		near = spell.Nearest(id, []string{near, found})
	}
	if record != nil {
		return *record, nil
	}
	if t.header == nil {
		return Amplifier{}, &FileError{file, max(t.line, 1), 1, "no line names the columns", "begin the table with a line like amp,node,channel,carrier"}
	}
	hint := ""
	if near != "" {
		hint = fmt.Sprintf(" (did you mean %s?)", near)
	}
	return Amplifier{}, fmt.Errorf("%w: %s lists no %q%s", ErrNoAmplifier, file, id, hint)
}

func nth(list []string, i int) string {
	if i >= len(list) {
		return ""
	}
	return list[i]
}

// inventoryColumns are the columns of an inventory that have a meaning; all
// others are its owner's own.
var inventoryColumns = []string{"amp", "node", "channel", "carrier", "mode", "spare_channel", "spare_carrier",
	"low_mhz", "high_mhz", "upstream", "role"}

// misspelt refuses a column that looks like one of known misspelt: what it
// says would be passed over.
func (t *table) misspelt(known []string) error {
	for _, f := range t.header {
		near := spell.Nearest(f.text, known)
		if _, taken := t.at[near]; near != "" && near != f.text && !taken {
			return &FileError{t.file, t.line, f.column, fmt.Sprintf("column %q is not known", f.text), fmt.Sprintf("rename it to %s", near)}
		}
	}
	return nil
}

// needs checks that columns are there.
func (t *table) needs(names ...string) error {
	var have []string
	for _, f := range t.header {
		have = append(have, f.text)
	}
	for _, name := range names {
		if _, ok := t.at[name]; ok {
			continue
		}
		hint := "add it"
		if near := spell.Nearest(name, have); near != "" {
			hint = fmt.Sprintf("rename the one named %q", near)
		}
		return &FileError{t.file, t.line, 1, fmt.Sprintf("there is no column '%s'", name), hint}
	}
	return nil
}

// value returns a row's value in a named column, empty where there is none.
func (t *table) value(fields []field, name string) field {
	if i, ok := t.at[name]; ok && i < len(fields) {
		return fields[i]
	}
	return field{column: 1}
}

// amplifier reads a row of an inventory. Columns beyond the first four may be
// missing or empty.
func (t *table) amplifier(fields []field) (Amplifier, error) {
	a := Amplifier{Line: t.line}
	fail := func(f field, format string, args ...any) (Amplifier, error) {
		return Amplifier{}, &FileError{t.file, t.line, f.column, fmt.Sprintf(format, args...), "correct the row"}
	}
	a.ID, a.Node = t.value(fields, "amp").text, t.value(fields, "node").text
	a.Upstream = t.value(fields, "upstream").text

	words := func(name string, list []string) (int, error) {
		f := t.value(fields, name)
		for i, w := range list {
			if f.text == "" && i == 0 || strings.EqualFold(f.text, w) {
				return i, nil
			}
		}
		_, err := fail(f, "%s %q is not one of %s", name, f.text, strings.Join(list, ", "))
		return 0, err
	}
	mode, err := words("mode", modeWords[:])
	if err != nil {
		return Amplifier{}, err
	}
	role, err := words("role", roleWords[:])
	if err != nil {
		return Amplifier{}, err
	}
	a.Mode, a.Role = Mode(mode), Role(role)

	for _, p := range []struct {
		channel, carrier string
		into             *Pilot
		required         bool
	}{
		{"channel", "carrier", &a.Pilot, a.Mode == AGC},
		{"spare_channel", "spare_carrier", &a.Spare, false},
	} {
		channel, kind := t.value(fields, p.channel), t.value(fields, p.carrier)
		if channel.text == "" && kind.text == "" && !p.required {
			continue
		}
		if p.into.Kind, err = carrier.ParsePilot(kind.text); err != nil {
			return fail(kind, "%v", err)
		}
		if p.into.Channel, err = ParseChannel(channel.text); err != nil {
			return fail(channel, "%v", err)
		}
	}

	low, high := t.value(fields, "low_mhz"), t.value(fields, "high_mhz")
	if low.text != "" || high.text != "" {
		if a.Passband.LowHz, err = channelplan.ParseMHz(t.number(low.text)); err != nil {
			return fail(low, "low_mhz: %v", err)
		}
		if a.Passband.HighHz, err = channelplan.ParseMHz(t.number(high.text)); err != nil {
			return fail(high, "high_mhz: %v", err)
		}
		if a.Passband.LowHz >= a.Passband.HighHz {
			return fail(low, "the passband ends below where it begins")
		}
	}
	return a, nil
}
