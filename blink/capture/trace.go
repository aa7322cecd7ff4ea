// Package capture turns recordings of a lamp into the intervals in which it was lit and
// dark.
//
// [ReadTrace] reads a brightness trace: a CSV of seconds and brightness, in any unit,
// with uneven steps. It streams, and keeps only the times at which the light changed.
package capture

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"time"
	"unicode/utf8"

	"tallywink.example/blink/capture/drift"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
	"tallywink.example/channelplan/wording"
)

// Trace is what was found in a brightness trace.
type Trace struct {
	// Pieces are the intervals of light and dark by two levels found in a window of time,
	// which is best if ambient light is tame. Moving are those by a model of ambient light
	// that moves, see package drift. A new piece begins after each gap in the samples.
	// [Trace.Read] reads both as far as needed.
	Pieces, Moving []reading.Piece
	lost           bool // ambient light moved too much to be followed
	tame           bool // ambient light hardly moved
	saturated      bool // the sensor was often at its upper limit
	twoValued      bool // brightness is one of two values: no ambient light can have moved
	restless       bool // where the lamp did not change at the end, brightness jumped or did not rest
	Samples        int
	// Scraps is how many pieces between gaps are left out, the shortest ones: see
	// mostPieces.
	Scraps int
	// Disordered is how many samples were a little out of order and were sorted.
	Disordered int
	Length     time.Duration // from the first sample to the last, gaps included
	// Unchanging reports whether the brightness never changed like a lamp: it was always
	// lit or always dark, and a trace alone does not show which. There are no pieces then.
	Unchanging bool
	// Unsteady reports whether the brightness moved between levels too different to be one
	// lamp's. If so, ambient light moved more than the lamp did, and the result must not
	// be trusted.
	Unsteady bool
	// Step is the usual time from one sample to the next: the time of an edge is not
	// known better.
	Step time.Duration
}

// Read reads the trace, both by levels in a window and by the model of ambient light
// that moves. A curve of ambient light can look like a slow rhythm between two levels.
// So if the model does not find ambient light tame, the levels do not count; and if the
// two give different sure answers, neither is believed. If told is not nil, it is
// called with how many parts have been weighed. unsteady reports that the result must
// not be believed. The error is the context's.
func (t *Trace) Read(ctx context.Context, reader *reading.TimedReader,
	told func(done, of int)) (result reading.TimedResult, unsteady bool, err error) {
	reader = reader.Sampled(t.Step)
	result, unsteady, err = t.read(ctx, reader, told)
	if err != nil {
		return result, unsteady, err
	}
	if t.saturated && reader.AlwaysLit(result.Best().Signal) {
		unsteady = true // a sensor at its limit looks like a lamp that is always lit
	}
	// One step of ambient light looks like a lamp that goes on or off and stays so; and where
	// ambient light jumped, was covered or does not rest, a lamp may still blink behind it.
	if stands, seenToBlink := reader.Stands(result); stands && (!seenToBlink || t.restless) {
		unsteady = true
	}
	return result, unsteady, nil
}

func (t *Trace) read(ctx context.Context, reader *reading.TimedReader,
	told func(done, of int)) (result reading.TimedResult, unsteady bool, err error) {
	result, err = reader.ReadPieces(ctx, t.Pieces, told)
	if err != nil {
		return result, t.Unsteady, err
	}
	if t.twoValued && len(t.Pieces) > 0 {
		return result, t.Unsteady, nil
	}
	if t.lost && len(t.Pieces) > 0 {
		return result, t.Unsteady || !t.tame, nil // what the model found does not count
	}
	moving, err := reader.ReadPieces(ctx, t.Moving, told)
	if err != nil {
		return result, t.Unsteady, err
	}
	sure := len(t.Pieces) > 0 && !t.Unsteady && !result.Doubtful()
	follows := len(t.Moving) > 0 && !t.lost && !moving.Doubtful() &&
		(t.tame || moving.Best().Probability >= sureOfMoving)
	switch {
	case sure && follows && t.tame:
		return result, result.Best().Signal != moving.Best().Signal, nil
	case follows:
		return moving, false, nil
	case len(t.Pieces) == 0 && len(t.Moving) > 0:
		return moving, t.lost || !moving.Doubtful(), nil
	}
	return result, t.Unsteady || !t.tame, nil
}

// sureOfMoving is the probability below which an answer is not believed where ambient
// light moved: of those told with less, one in seven was wrong in the recordings of
// TestProbabilitiesAreTrue, because edges of the light are mistaken more often there than
// the reader's model of lengths assumes.
const sureOfMoving = 0.99

const (
	maxBright  = 1e15 // above this a brightness is a mistake
	maxSeconds = 1e9  // above this a time is a mistake: 30 years
)

// ReadTrace reads a trace. The first line that is not a comment is the header line;
// seconds and brightness must be among its columns. Commas, semicolons or tabs separate
// columns. The error is a [*fault.Error].
func ReadTrace(r io.Reader) (*Trace, error) {
	in, err := newTraceRows(r)
	if err != nil {
		return nil, err
	}
	tame, moving := newSplitter(), &drift.Splitter{}
	trace := &Trace{}
	var first, last float64
	clean := &glitches{emit: func(seconds, bright float64) {
		tame.add(seconds, bright)
		moving.Add(seconds, bright)
	}}
	order := &arrivals{emit: clean.add}
	err = in.each(func(line []byte, number int, seconds, bright float64) error {
		if trace.Samples == 0 {
			first, last = seconds, seconds
		}
		if !order.add(seconds-first, bright) {
			return in.fail(line, number, in.seconds, "the time does not increase here", "sort the samples by time")
		}
		last = max(last, seconds)
		trace.Samples++
		if tame.full() || moving.Full() {
			return &fault.Error{Line: number, Column: 1,
				Text: "the light has changed 100,000 times up to here, and no lamp does that",
				Hint: "cut the trace to the minutes that matter"}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if trace.Samples < 2 {
		return nil, &fault.Error{Line: in.Line, Column: 1, Text: "the trace has fewer than two samples",
			Hint: "record the lamp for a frame or two, ten seconds at least"}
	}
	if last <= first {
		return nil, &fault.Error{Line: in.Line, Column: 1,
			Text: "the time does not increase: all samples have the same one",
			Hint: "write the time of each sample, in seconds"}
	}
	order.finish()
	clean.finish()
	trace.Disordered = order.early
	trace.Step = time.Duration(tame.steps.Usual() * float64(time.Second))
	trace.Length = time.Duration((last - first) * float64(time.Second))
	var scraps int
	trace.Pieces, trace.Scraps = longest(tame.finish())
	trace.Moving, scraps = longest(moving.Finish())
	trace.Scraps = max(trace.Scraps, scraps)
	trace.Unchanging = len(trace.Pieces) == 0 && len(trace.Moving) == 0
	trace.Unsteady, trace.lost, trace.tame, trace.twoValued, trace.saturated = tame.unsteady(), moving.Unsteady(),
		moving.Tame(), moving.TwoValued(), moving.Saturated()
	trace.restless = moving.Restless()
	return trace, nil
}

// mostPieces is how many pieces of a trace are read. Each costs a weighing of all
// signals, and hundreds of scraps of a second add nothing to some minutes.
const mostPieces = 64

// longest keeps the pieces with the most intervals, in their order, and counts the
// others.
func longest(pieces []reading.Piece) (kept []reading.Piece, scraps int) {
	if len(pieces) <= mostPieces {
		return pieces, 0
	}
	order := make([]int, len(pieces))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return len(pieces[b].Intervals) - len(pieces[a].Intervals) })
	order = order[:mostPieces]
	slices.Sort(order)
	for _, i := range order {
		kept = append(kept, pieces[i])
	}
	return kept, len(pieces) - mostPieces
}

// traceRows reads the rows of a trace.
type traceRows struct {
	*table.Table
	seconds, bright int // the indexes of their columns
	values          [][]byte
}

const headerHint = "start the trace with a header line: seconds,brightness"

func newTraceRows(r io.Reader) (*traceRows, error) {
	t, err := table.New(r, "")
	if err != nil {
		return nil, err
	}
	s := &traceRows{Table: t}
	for t.Header == nil {
		line, err := t.ReadLine()
		if err == io.EOF {
			return nil, &fault.Error{Line: max(t.Line, 1), Column: 1, Text: "the trace has no header line",
				Hint: headerHint}
		}
		if err != nil {
			return nil, err
		}
		if isRemark([]byte(line)) {
			continue
		}
		if err := t.ReadHeader(line); err != nil {
			return nil, err
		}
	}
	for name, place := range map[string]*int{"seconds": &s.seconds, "brightness": &s.bright} {
		at, ok := t.Place(name)
		if !ok {
			return nil, &fault.Error{Line: t.Line, Column: 1,
				Text: "the trace needs a column named seconds and one named brightness", Hint: headerHint}
		}
		*place = at
	}
	return s, nil
}

// isRemark reports whether a line is a comment or has nothing in it.
func isRemark(line []byte) bool {
	bare := table.Bare(line)
	return len(bare) == 0 || bare[0] == '#'
}

// each calls yield with each sample, its line and its line's number, until there is an
// error.
func (s *traceRows) each(yield func(line []byte, number int, seconds, bright float64) error) error {
	buffer := make([]byte, 2*table.MaxLineBytes)
	for {
		block, err := s.ReadBlock(buffer)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		for line, number := range block.Lines {
			if isRemark(line) {
				continue
			}
			seconds, bright, err := s.sample(line, number)
			if err == nil {
				err = yield(line, number, seconds, bright)
			}
			if err != nil {
				return err
			}
		}
	}
}

// sample reads the numbers of one row.
func (s *traceRows) sample(line []byte, number int) (seconds, bright float64, err error) {
	var problem *fault.Error
	if s.values, problem = s.Values(line, number, s.values[:0]); problem != nil {
		return 0, 0, problem
	}
	if columns := len(s.Header); len(s.values) > columns &&
		slices.ContainsFunc(s.values[columns:], func(v []byte) bool { return len(v) > 0 }) {
		return 0, 0, s.fail(line, number, columns,
			fmt.Sprintf("there are more values here than the header's columns, %d", columns),
			"write plain numbers such as 1.25, with no separator in them")
	}
	if seconds, err = s.number(line, number, s.seconds, maxSeconds); err != nil {
		return 0, 0, err
	}
	bright, err = s.number(line, number, s.bright, maxBright)
	return seconds, bright, err
}

// number reads the value in a column.
func (s *traceRows) number(line []byte, number, column int, most float64) (float64, error) {
	name := s.Header[column].Text
	if column >= len(s.values) {
		return 0, &fault.Error{Line: number, Column: 1 + utf8.RuneCount(line),
			Text: fmt.Sprintf("there is no value for %s here", name), Hint: "every line needs all values"}
	}
	text := string(s.values[column])
	x, err := table.ParseNumber(s.Number(text))
	if err != nil || math.Abs(x) > most {
		return 0, s.fail(line, number, column, fmt.Sprintf("%q is not a number of %s", wording.Clipped(text, 30),
			name), "write a plain number such as 1.25")
	}
	return x, nil
}

// fail returns a fault in a column of a row. The row is split once more for it, because
// only then does it matter where its values begin.
func (s *traceRows) fail(line []byte, number, column int, text, hint string) error {
	at := 1
	if fields, problem := s.Split(string(line), number); problem == nil {
		at = fields[column].Column
	}
	return &fault.Error{Line: number, Column: at, Text: text, Hint: hint}
}
