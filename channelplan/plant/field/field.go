// Package field is the field book: what technicians read at amplifiers, and what follows
// from that together with the inventory.
//
// A [Reading] is appended to a book for every lamp that is read at a known amplifier;
// [Read] reads them back. [Compare] compares them with the inventory, amplifier by
// amplifier, and locates faults along the cascades.
package field

import (
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/fault"
)

// Minute is the layout in which the time of a reading is shown: hours matter when
// locating faults.
const Minute = "2006-01-02 15:04"

// Type is the type of readings in a book.
const Type = "reading"

// Reading is what was read at an amplifier.
type Reading struct {
	book.Record
	Amp     string             `json:"amp"` // the ID in the inventory
	State   blink.State        `json:"state"`
	EdgeEnd blink.EdgeEnd      `json:"edge_end,omitzero"` // in state edge
	Pilot   *channelplan.Pilot `json:"pilot,omitempty"`   // if the lamp named one with certainty
	// Doubtful reports that no pilot was read with certainty.
	Doubtful bool   `json:"doubtful,omitempty"`
	Marks    string `json:"marks,omitempty"`   // as counted, or the frame of a recording's pilot
	Verdict  string `json:"verdict,omitempty"` // on the pilot, by the lineup, if there was one
	Who      string `json:"who,omitempty"`     // who read the lamp
}

// WithdrawalType is the type of records that take a reading back.
const WithdrawalType = "withdrawal"

// Withdrawal takes a reading back that was wrong. The reading stays in the book, and
// does not count any more.
type Withdrawal struct {
	book.Record
	Amp string    `json:"amp"`
	Of  time.Time `json:"of"` // the time of the reading, as the book has it
	Who string    `json:"who,omitempty"`
}

// Withdraw returns the record that takes one of the book's readings back, by its index.
func (b Book) Withdraw(i int, who string, now time.Time) Withdrawal {
	return Withdrawal{book.Record{Type: WithdrawalType, Time: now}, b.Readings[i].Amp, b.written[i], who}
}

// Lamp returns the pilot that the lamp named, and whether it named a possible one.
func (r Reading) Lamp() (channelplan.Pilot, bool) {
	if r.Pilot == nil || r.Pilot.Channel < channelplan.FirstChannel || r.Pilot.Channel > channelplan.LastExtended {
		return channelplan.Pilot{}, false
	}
	p := channelplan.Pilot{Channel: r.Pilot.Channel, Kind: r.Pilot.Kind.Family()}
	return p, slices.Contains(pilotKinds[:], p.Kind)
}

var pilotKinds = channelplan.PilotKinds()

// Book is a book's readings.
type Book struct {
	Readings []Reading  // in the order of the book
	Damaged  []int      // lines that could not be read
	Clock    book.Clock // reports times that can't be right
	// written holds the time of each reading as the book has it, whatever the clock says.
	written []time.Time
}

var errPilot = errors.New("there is no such pilot")

// Read reads the readings of a book of that name, from a time on; the zero time means
// from the beginning. It skips records of other types, and readings that were withdrawn. A reading whose time can't be
// right, given the present time, gets the time from the book's clock. The error is a
// [*fault.Error].
func Read(in io.Reader, name string, since, now time.Time) (Book, error) {
	all := Book{Clock: book.NewClock(name, now)}
	type place struct {
		amp string // in lower case
		at  int64  // nanoseconds
	}
	withdrawn := map[place]bool{}
	var err error
	all.Damaged, err = book.Scan(in, name, func(number int, line []byte) error {
		var record book.Record
		if err := json.Unmarshal(line, &record); err == nil && record.Type == WithdrawalType {
			var w Withdrawal
			if err := json.Unmarshal(line, &w); err != nil || w.Amp == "" || w.Of.IsZero() {
				return book.ErrDamaged
			}
			withdrawn[place{strings.ToLower(w.Amp), w.Of.UnixNano()}] = true
			return nil
		} else if err == nil && record.Type != Type {
			return nil
		}
		var r Reading
		err := json.Unmarshal(line, &r)
		if _, told := r.Lamp(); r.Pilot != nil && !told {
			err = errPilot
		}
		if err != nil || r.State == blink.NoState || r.Amp == "" || r.Time.IsZero() {
			return book.ErrDamaged
		}
		noted := r.Time
		if r.Time = all.Clock.At(number, r.Time); r.Time.Before(since) {
			return nil
		}
		if len(all.Readings) == book.MaxKept {
			return book.Full(name, "count only readings from a certain day on", fault.NameDay)
		}
		all.Readings, all.written = append(all.Readings, r), append(all.written, noted)
		return nil
	})
	kept := 0
	for i, r := range all.Readings {
		if !withdrawn[place{strings.ToLower(r.Amp), all.written[i].UnixNano()}] {
			all.Readings[kept], all.written[kept] = r, all.written[i]
			kept++
		}
	}
	all.Readings, all.written = all.Readings[:kept], all.written[:kept]
	return all, err
}
