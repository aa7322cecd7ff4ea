// Package capture turns recordings of a lamp into the intervals in which it was lit and
// dark.
//
// [ReadTrace] reads a brightness trace: a CSV of seconds and brightness, in any unit,
// with uneven steps. It streams, and keeps only the times at which the light changed.
package capture

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
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
}

// Read reads the trace, both by levels in a window and by the model of ambient light
// that moves. A curve of ambient light can look like a slow rhythm between two levels.
// So if the model does not find ambient light tame, the levels do not count; and if the
// two give different sure answers, neither is believed. If told is not nil, it is
// called with how many parts have been weighed. unsteady reports that the result must
// not be believed. The error is the context's.
func (t *Trace) Read(ctx context.Context, reader *reading.TimedReader, told func(done, of int)) (result reading.TimedResult, unsteady bool, err error) {
	result, err = reader.ReadPieces(ctx, t.Pieces, told)
	if err != nil {
		return result, t.Unsteady, err
	}
	moving, err := reader.ReadPieces(ctx, t.Moving, told)
	if err != nil {
		return result, t.Unsteady, err
	}
	sure := len(t.Pieces) > 0 && !t.Unsteady && !result.Doubtful()
	follows := len(t.Moving) > 0 && !t.lost && !moving.Doubtful()
	switch {
	case sure && follows && t.tame:
		return result, result.Best().Signal != moving.Best().Signal, nil
	case follows:
		return moving, false, nil
	case len(t.Pieces) == 0 && len(t.Moving) > 0:
		return moving, t.lost, nil
	}
	return result, t.Unsteady || !t.tame, nil
}

const (
	maxTraceLine = 4 << 10 // bytes of a line
	maxBright    = 1e15    // above this a brightness is a mistake
	maxSeconds   = 1e9     // above this a time is a mistake: 30 years
)

// ReadTrace reads a trace. The first line that is not a comment is the header line;
// seconds and brightness must be among its columns. Commas, semicolons or tabs separate
// columns. The error is a [*fault.Error] or that of the reader.
func ReadTrace(r io.Reader) (*Trace, error) {
	p := &traceParser{in: bufio.NewReaderSize(r, 64<<10)}
	if err := p.header(); err != nil {
		return nil, err
	}
	tame, moving := newSplitter(), &drift.Splitter{}
	trace := &Trace{}
	var first, last float64
	in := &arrivals{emit: func(seconds, bright float64) {
		tame.add(seconds, bright)
		moving.Add(seconds, bright)
	}}
	for {
		seconds, bright, err := p.sample()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if trace.Samples == 0 {
			first, last = seconds, seconds
		}
		if !in.add(seconds-first, bright) {
			return nil, p.fail(p.columnAt(p.seconds), "the time does not increase here", "sort the samples by time")
		}
		last = max(last, seconds)
		trace.Samples++
		if tame.full() || moving.Full() {
			return nil, p.fail(1, "the light has changed 100,000 times up to here, and no lamp does that", "cut the trace to the minutes that matter")
		}
	}
	if trace.Samples < 2 {
		return nil, &fault.Error{Line: p.line, Column: 1, Text: "the trace has fewer than two samples", Hint: "record the lamp for a frame or two, ten seconds at least"}
	}
	if last <= first {
		return nil, p.fail(1, "the time does not increase: all samples have the same one", "write the time of each sample, in seconds")
	}
	in.finish()
	trace.Disordered = in.early
	trace.Length = time.Duration((last - first) * float64(time.Second))
	var scraps int
	trace.Pieces, trace.Scraps = longest(tame.finish())
	trace.Moving, scraps = longest(moving.Finish())
	trace.Scraps = max(trace.Scraps, scraps)
	trace.Unchanging = len(trace.Pieces) == 0 && len(trace.Moving) == 0
	trace.Unsteady, trace.lost, trace.tame = tame.unsteady(), moving.Unsteady(), moving.Tame()
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

// traceParser reads the lines of a trace.
type traceParser struct {
	in              *bufio.Reader
	line            int
	text            []byte // the current line
	ended           bool   // the current line had a line end
	comma           byte
	fields          []span // the fields of the current line
	columns         int    // how many columns the header line has
	seconds, bright int    // the indexes of their columns
}

// span is where a field begins and ends in its line.
type span struct{ begin, end int }

func (p *traceParser) fail(column int, text, hint string) error {
	return &fault.Error{Line: p.line, Column: column, Text: text, Hint: hint}
}

// next reads the next line that is neither empty nor a comment.
func (p *traceParser) next() error {
	for {
		line, err := p.in.ReadSlice('\n')
		p.line++
		if errors.Is(err, bufio.ErrBufferFull) || len(line) > maxTraceLine {
			return p.fail(1, fmt.Sprintf("the line is longer than %d kB", maxTraceLine>>10), "is this a trace? It needs a line for each sample")
		}
		if err != nil && err != io.EOF {
			return fmt.Errorf("line %d: the rest of the trace can't be read: %w", p.line, err)
		}
		if len(line) == 0 {
			if p.line > 1 && !p.ended {
				p.line-- // the last line had no line end: nothing comes after it
			}
			return io.EOF
		}
		p.ended = line[len(line)-1] == '\n'
		line = bytes.TrimRight(line, "\r\n")
		if p.line == 1 {
			line = bytes.TrimPrefix(line, []byte("\ufeff"))
		}
		if blank := bytes.TrimLeft(line, " \t"); len(blank) == 0 || blank[0] == '#' {
			if err == io.EOF {
				return io.EOF
			}
			continue
		}
		p.text = line
		return nil
	}
}

const headerHint = "start the trace with a header line: seconds,brightness"

func (p *traceParser) header() error {
	err := p.next()
	if err == io.EOF {
		p.line = max(p.line, 1)
		return p.fail(1, "the trace is empty", headerHint)
	}
	if err != nil {
		return err
	}
	if bytes.IndexByte(p.text, 0) >= 0 {
		return p.fail(1, "this is not text in UTF-8", "save the trace as 'CSV UTF-8'")
	}
	p.comma = ','
	for _, c := range []byte(";\t") {
		if bytes.Count(p.text, []byte{c}) > bytes.Count(p.text, []byte{p.comma}) {
			p.comma = c
		}
	}
	p.seconds, p.bright = -1, -1
	p.cut()
	p.columns = len(p.fields)
	for i, f := range p.fields {
		name := p.text[f.begin:f.end]
		var place *int
		switch strings.ToLower(strings.Trim(string(name), " \"")) {
		case "seconds":
			place = &p.seconds
		case "brightness":
			place = &p.bright
		default:
			continue
		}
		if *place >= 0 {
			return p.fail(p.columnAt(i), fmt.Sprintf("column %s is named twice", bytes.Trim(name, " \"")), "keep one of the two")
		}
		*place = i
	}
	if p.seconds < 0 || p.bright < 0 {
		missing := "seconds"
		if p.seconds >= 0 {
			missing = "brightness"
		}
		return p.fail(1, fmt.Sprintf("no column is named %s", missing), headerHint)
	}
	return nil
}

// sample reads the next sample.
func (p *traceParser) sample() (seconds, bright float64, err error) {
	if err := p.next(); err != nil {
		return 0, 0, err
	}
	p.cut()
	if len(p.fields) > p.columns && len(bytes.Trim(p.text[p.fields[p.columns].begin:], string([]byte{p.comma, ' ', '"'}))) > 0 {
		return 0, 0, p.fail(p.columnAt(p.columns), fmt.Sprintf("there are more values here than the header's columns, %d", p.columns), "write plain numbers such as 1.25, with no separator in them")
	}
	if seconds, err = p.number(p.seconds, "seconds", maxSeconds); err != nil {
		return 0, 0, err
	}
	bright, err = p.number(p.bright, "brightness", maxBright)
	return seconds, bright, err
}

func (p *traceParser) number(column int, name string, most float64) (float64, error) {
	if column >= len(p.fields) {
		return 0, p.fail(1+utf8.RuneCount(p.text), fmt.Sprintf("there is no value for %s here", name), "every line needs all values")
	}
	field := bytes.Trim(p.text[p.fields[column].begin:p.fields[column].end], " \"")
	if p.comma != ',' && bytes.IndexByte(field, ',') >= 0 {
		field = bytes.Replace(bytes.Clone(field), []byte(","), []byte("."), 1) // a decimal comma
	}
	x, err := table.ParseNumber(string(field))
	if err != nil || math.Abs(x) > most {
		return 0, p.fail(p.columnAt(column), fmt.Sprintf("%q is not a number of %s", wording.Clipped(string(field), 30), name), "write a plain number such as 1.25")
	}
	return x, nil
}

// cut finds the fields of the line. A separator in quotes does not count.
func (p *traceParser) cut() {
	p.fields = p.fields[:0]
	begin, quoted := 0, false
	for i, c := range p.text {
		switch {
		case c == '"' && (quoted || i == begin): // elsewhere it is an inch
			quoted = !quoted
		case c == p.comma && !quoted:
			p.fields = append(p.fields, span{begin, i})
			begin = i + 1
		}
	}
	p.fields = append(p.fields, span{begin, len(p.text)})
}

// columnAt returns the column, in characters, at which a field begins.
func (p *traceParser) columnAt(column int) int {
	return 1 + utf8.RuneCount(p.text[:p.fields[column].begin])
}
