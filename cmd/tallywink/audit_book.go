package main

import (
	"errors"
	"os"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

// readFieldBook reads a field book, from a day on unless that is empty, and says what is wrong
// with it.
func readFieldBook(out *console.Console, path, since string) (field.Book, error) {
	var from time.Time
	var err error
	if since != "" {
		if from, err = input.ParseDay("since", since, time.Local); err != nil {
			return field.Book{}, err
		}
	}
	b, err := input.OpenBook(path, input.FieldBook)
	if err != nil {
		return field.Book{}, err
	}
	if _, err := os.Stat(b.Path); errors.Is(err, os.ErrNotExist) {
		return field.Book{}, &fault.Error{File: b.Path, Text: "there is no such file",
			Hint: "'tallywink decode ... --amp ID' notes readings, and says in which book"}
	}
	in, err := b.Open()
	if err != nil {
		return field.Book{}, err
	}
	defer in.Close()
	readings, err := field.Read(in, b.Path, from, time.Now())
	if err == nil {
		input.RemarkBooks(out, book.Places(b.Path, readings.Damaged), readings.Clock)
	}
	return readings, err
}

// runBook compares a field book with the inventory.
func (a *auditing) runBook(out *console.Console) (int, error) {
	switch {
	case a.Before != "" || a.lost || a.strict:
		return 0, misuse("leave them out", "--before, --unusable and --strict do not go with a field book")
	case a.json && a.csv:
		return 0, misuse("leave one of them out", "you gave both --json and --csv")
	case a.Amps == "":
		return 0, misuse("add --amps FILE", "a field book is compared with an inventory of amplifiers")
	}
	err := a.fitsPage()
	if err != nil {
		return 0, err
	}
	var l *lineup.Lineup
	if a.Lineup != "" {
		if l, err = input.LoadLineup(out, a.Lineup); err != nil {
			return 0, err
		}
	}
	readings, err := readFieldBook(out, a.book, a.since)
	if err != nil {
		return 0, err
	}
	p, c, err := input.LoadPlant(out, a.Amps, l)
	if err != nil {
		return 0, err
	}
	seen := report.SeenInField{Compared: field.Compare(p, c, readings.Readings, l), Lineup: l,
		Readings: readings.Readings,
		Damaged:  readings.Damaged, Misdated: readings.Clock.Count, Problems: append(slices.Clone(p.Problems),
			c.Problems...)}
	if a.node != "" && !seen.Keep(p, a.node) {
		return 0, input.NoNode(a.node)
	}
	status := exitWell
	if len(seen.Faults) > 0 ||
		seen.Count(field.WrongPilot)+seen.Count(field.NotLocked)+seen.Count(field.NotAsMeant) > 0 || p.LeftOut > 0 ||
		len(c.Problems)+len(readings.Damaged) > 0 {
		status = exitBadNews
	}
	if a.json {
		return status, seen.Lines(out, a.all)
	}
	if a.csv {
		out.Line("%s", strings.TrimSuffix(string(seen.List(p, a.all, out.Terminal)), "\n"))
		return status, nil
	}
	if a.html != "" {
		return status, seen.Page(out, a.html, p, c, a.all)
	}
	out.Print(seen.Blocks(a.all), nil)
	return status, nil
}

// fitsPage checks that --html goes with the other flags.
func (a *auditing) fitsPage() error {
	return input.MisfitsPage(a.html, a.json, a.csv, input.At("--amps", a.Amps), input.At("--lineup", a.Lineup),
		input.At("--before", a.Before), input.At("--book", a.book))
}
