package field

import (
	"fmt"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// Trouble is what is wrong with the last reading of an amplifier.
type Trouble uint8

// The troubles.
const (
	NoTrouble   Trouble = iota
	NeverSeen           // nobody has read its lamp
	Unsure              // the last reading is doubtful
	WrongPilot          // locked on another pilot than the one on record
	NotLocked           // it has AGC, and is not locked
	AtEdge              // locked, but at the end of its range
	NotAsMeant          // manual or thermal by design, but the lamp shows something else
	troubleMany         // number of troubles
)

var troubleWords = [troubleMany]string{"none", "never-seen", "doubtful", "wrong-pilot", "not-locked", "edge",
	"not-as-designed"}

// String returns the word that JSON uses: never-seen, wrong-pilot and so on.
func (t Trouble) String() string {
	if t >= troubleMany {
		return ""
	}
	return troubleWords[t]
}

// MarshalText returns [Trouble.String].
func (t Trouble) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// Visit is an amplifier and its last reading.
type Visit struct {
	plant.Amplifier
	Last    *Reading // nil if there is none
	Count   int      // how many readings there are
	Trouble Trouble
	Text    string // what is wrong, half a sentence; "" if nothing
	// Changed is the reading before the last, if both are of the same visit and differ:
	// the lamp changed within minutes, or one of the two is a misreading.
	Changed *Reading
}

// Compared is a field book compared with an inventory.
type Compared struct {
	Visits []Visit // cascade by cascade
	// Unlisted holds readings at amplifiers that the inventory does not list.
	Unlisted []Reading
	Faults   []Fault
}

// Compare compares readings with an inventory. If there are several at one amplifier, the
// last counts; of two at the same time, the later one in the book. If a lineup is given,
// nobody is sent to look for a pilot that is not valid in it.
func Compare(p *plant.Plant, c *plant.Cascades, readings []Reading, l *lineup.Lineup) Compared {
	at := make([][]*Reading, len(p.Amplifiers))
	var all Compared
	for i := range readings {
		r := &readings[i]
		place, ok := p.Find(r.Amp)
		if !ok {
			all.Unlisted = append(all.Unlisted, *r)
			continue
		}
		at[place] = append(at[place], r)
	}
	s := newSearch(p, c, l)
	for _, i := range c.Order {
		slices.SortStableFunc(at[i], func(a, b *Reading) int { return a.Time.Compare(b.Time) })
		v := Visit{Amplifier: p.Amplifiers[i], Count: len(at[i])}
		if n := len(at[i]); n > 0 {
			v.Last = at[i][n-1]
			v.Changed = changedWithin(at[i])
			s.take(i, at[i])
		}
		v.Trouble, v.Text = trouble(v)
		all.Visits = append(all.Visits, v)
	}
	all.Faults = s.faults()
	return all
}

// oneVisit is how far apart two readings of one amplifier may be and still belong to one
// visit: a few minutes (an assumption).
const oneVisit = 15 * time.Minute

// changedWithin returns the reading before the last if it differs from the last and is of
// the same visit; nil if there is none.
func changedWithin(readings []*Reading) *Reading {
	n := len(readings)
	if n < 2 {
		return nil
	}
	last, before := readings[n-1], readings[n-2]
	a, told := last.Lamp()
	b, toldBefore := before.Lamp()
	if last.Doubtful || before.Doubtful || last.Time.Sub(before.Time) > oneVisit || told && !toldBefore &&
		last.State == before.State {
		return nil
	}
	if last.State == before.State && last.EdgeEnd == before.EdgeEnd && a == b {
		return nil
	}
	return before
}

func trouble(v Visit) (Trouble, string) {
	r := v.Last
	if r == nil {
		return NeverSeen, ""
	}
	meant := map[lineup.Mode]blink.State{lineup.HandSet: blink.Manual, lineup.OpenLoop: blink.Thermal}
	pilot, told := r.Lamp()
	switch {
	case r.Doubtful:
		return Unsure, "the reading is doubtful"
	case v.Mode != lineup.AGC && r.State == meant[v.Mode]:
		return NoTrouble, ""
	case v.Mode != lineup.AGC:
		return NotAsMeant, fmt.Sprintf("%s, but %v by design", stateWords(*r), v.Mode)
	case !r.State.ShowsFrame():
		return NotLocked, stateWords(*r)
	case told && pilot == v.Spare:
		return WrongPilot, fmt.Sprintf("locked on %v, its spare; its pilot on record is %v", pilot, v.Pilot)
	case told && pilot != v.Pilot && pilot != v.Slope.Pilot:
		return WrongPilot, fmt.Sprintf("locked on %v; its pilot on record is %v", pilot, v.Pilot)
	case r.State == blink.Edge:
		return AtEdge, stateWords(*r)
	}
	return NoTrouble, ""
}

// Words says what a reading shows, in half a sentence.
func (r Reading) Words() string {
	if r.Doubtful {
		return "doubtful"
	}
	if pilot, told := r.Lamp(); told && r.State.ShowsFrame() {
		return fmt.Sprintf("%s on %v", stateWords(r), pilot)
	}
	return stateWords(r)
}

func stateWords(r Reading) string {
	if r.EdgeEnd != blink.NoEnd {
		return fmt.Sprintf("%v, %v end", r.State, r.EdgeEnd)
	}
	return r.State.String()
}
