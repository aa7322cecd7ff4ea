// Package audit checks every amplifier of an inventory against a lineup.
//
// [Run] streams: it reads rows in blocks, judges them in several goroutines, and writes
// them in the order of the file, the same bytes however many goroutines there are. Memory
// grows with the rows by only some 16 bytes each, so that an amplifier that is listed
// twice can be reported. Rows with the same settings are judged once.
package audit

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"runtime"
	"slices"
	"time"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/table"
)

// Request is what to audit against.
type Request struct {
	Lineup *lineup.Lineup
	Before *lineup.Lineup // the previous lineup; nil if there is no change to audit
	Today  time.Time
	Node   string // only the amplifiers of this node, in any case; "" is all
}

// Judgement is what an audit says about all amplifiers with the same settings.
type Judgement struct {
	Amplifier *plant.Amplifier // the settings: without ID, node and other values that each has for itself
	ByDesign  bool             // gain set by hand or by temperature: it does not have a pilot to lose
	Report    lineup.Report    // on its pilot in the lineup; zero if ByDesign is set
	// Spare judges its spare pilot as if the amplifier followed that; nil if it has none.
	Spare *lineup.Report
	// Change is what happens to the pilot; nil if there is no change to audit.
	Change *lineup.Comparison
	// Text is what [Writer.Judged] returned for it.
	Text []byte
}

// NeedsAttention reports whether someone should look at the amplifiers, because their
// pilot is not plainly usable or a lineup change affects it.
func (j *Judgement) NeedsAttention() bool {
	return j.Report.Verdict != lineup.Usable || j.Change != nil && len(j.Change.Changes) > 0
}

// judge judges an amplifier's pilot.
func (q Request) judge(a *plant.Amplifier) *Judgement {
	j := &Judgement{Amplifier: a, ByDesign: a.Mode != lineup.AGC}
	if j.ByDesign {
		return j
	}
	if q.Before != nil {
		compared := lineup.Compare(q.Before, q.Lineup, a.Amplifier)
		j.Change, j.Report = &compared, compared.After
	} else {
		j.Report = q.Lineup.CheckOne(a.Pilot, lineup.Context{Amplifier: &a.Amplifier})
	}
	if !a.Spare.IsZero() && a.Spare != a.Pilot {
		on := a.On(a.Spare)
		r := q.Lineup.CheckOne(a.Spare, lineup.Context{Amplifier: &on})
		j.Spare = &r
	}
	return j
}

// Writer says how an audit is written. Its functions are called by several goroutines at
// once and must not depend on anything but their arguments.
type Writer struct {
	// All reports that amplifiers that need no attention are written as well.
	All bool
	// Only, if not nil, limits which amplifiers are written.
	Only func(*Judgement) bool
	// Judged returns, once, the text that is the same for all amplifiers of a judgement;
	// nil if there is none.
	Judged func(*Judgement) []byte
	// Row appends an amplifier, in whole lines.
	Row func(to []byte, r plant.Row, j *Judgement) []byte
	// Problem appends what is wrong with a row, in whole lines; nil if problems are
	// reported at the end.
	Problem func(to []byte, p table.Problem) []byte
	// Progress, if not nil, is called now and then, by one goroutine, with how many lines
	// of the inventory are done.
	Progress func(lines int)
	// Workers is how many goroutines judge; 0 means one per processor.
	Workers int
}

// Count is how many amplifiers had which result.
type Count struct{ Amps, Usable, WithCare, Unusable, ByDesign int }

func (c *Count) add(j *Judgement) {
	c.Amps++
	switch {
	case j.ByDesign:
		c.ByDesign++
		c.Usable++
	case j.Report.Verdict == lineup.Unusable:
		c.Unusable++
	case j.Report.Verdict == lineup.WithCare:
		c.WithCare++
	default:
		c.Usable++
	}
}

// Cause is why amplifiers need attention: a rule with a finding, or a change that
// concerns their pilot.
type Cause struct {
	Name string // the name of the rule or of the change
	Text string // a sentence about the first such amplifier
	ID   string // of that amplifier
	Amps int
}

// maxTold is how many problems a summary holds.
const maxTold = 20

// Summary is the result of an audit.
type Summary struct {
	Count
	Nodes   map[string]*Count
	Rules   map[lineup.Rule]*Cause // blockers and cautions, by rule
	Changes map[lineup.ChangeKind]*Cause
	// Problems holds the first problems of rows, and Told counts all of them. LeftOut is
	// how many rows could not be used.
	Problems []table.Problem
	Told     int
	LeftOut  int
	Lines    int // how many lines were read
}

// How much of the inventory is read at once, and how many more blocks than workers are
// under way.
const (
	blockBytes = 2 * table.MaxLineBytes
	ahead      = 2
)

// job is a block on its way through a worker.
type job struct {
	block  table.Block
	buffer []byte // the buffer that the block is in
	rows   []outcome
	out    []byte
	done   chan struct{}
}

// outcome is what a worker made of one row.
type outcome struct {
	line     int
	id, node []byte
	hash     uint64 // of the ID in lower case
	j        *Judgement
	end      int // end of what it wrote, in the job's out
	problem  *table.Problem
}

// The most that an audit keeps in memory: an ID's hash takes some 16 bytes.
const (
	maxAmps      = 4_000_000
	maxNodes     = 100_000
	maxNodeBytes = 1 << 10 // the longest name of a node
)

// Run audits an inventory and writes, in the inventory's order, what the writer makes of
// its amplifiers. The output always ends with a whole line, whatever the error: the
// context's, the output's, or a [*fault.Error] of the inventory. The summary covers what
// was read up to then.
func Run(ctx context.Context, inv *plant.Inventory, q Request, w Writer, to io.Writer) (*Summary, error) {
	workers := w.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	free := make(chan *job, workers+ahead)
	for range cap(free) {
		free <- &job{buffer: make([]byte, blockBytes), done: make(chan struct{}, 1)}
	}
	work, inOrder := make(chan *job, cap(free)), make(chan *job, cap(free))
	var readErr error // written before inOrder is closed
	seed := maphash.MakeSeed()
	go func() {
		defer close(inOrder)
		defer close(work)
		for {
			var next *job
			select {
			case <-ctx.Done():
				readErr = ctx.Err()
				return
			case next = <-free:
			}
			var err error
			if next.block, err = inv.ReadBlock(next.buffer); err != nil {
				if err != io.EOF {
					readErr = err
				}
				return
			}
			work <- next
			inOrder <- next
		}
	}()
	for range workers {
		go func() {
			worker := newWorker(inv, q, w, seed)
			for next := range work {
				worker.do(next)
				next.done <- struct{}{}
			}
		}()
	}
	c := newCollector(inv.File, w, to)
	var err error
	for {
		next, more := c.next(ctx, inOrder)
		if next == nil {
			if err == nil && more {
				err = ctx.Err() // the reader may be waiting for a pipe: do not wait for it
			} else if err == nil {
				err = readErr
			}
			return c.summary, err
		}
		<-next.done
		if err == nil {
			if err = c.take(next); err != nil {
				stop()
			}
		}
		free <- next
	}
}

// next returns the next job, or nil if there are no more under way; more then reports
// whether there would be more if the audit had not been stopped.
func (*collector) next(ctx context.Context, inOrder <-chan *job) (next *job, more bool) {
	select {
	case next, more = <-inOrder:
		return next, more
	case <-ctx.Done():
	}
	select {
	case next, more = <-inOrder:
		return next, more
	default:
		return nil, true
	}
}

// worker judges rows.
type worker struct {
	q       Request
	w       Writer
	seed    maphash.Seed
	decoder *plant.Decoder
	known   map[*plant.Amplifier]*Judgement
	lower   []byte
	node    []byte // nil for all nodes
}

func newWorker(inv *plant.Inventory, q Request, w Writer, seed maphash.Seed) *worker {
	k := &worker{q: q, w: w, seed: seed, decoder: inv.Decoder(), known: map[*plant.Amplifier]*Judgement{}}
	if q.Node != "" {
		k.node = []byte(q.Node)
	}
	return k
}

// maxKnown is how many judgements a worker keeps.
const maxKnown = 4096

func (k *worker) judge(a *plant.Amplifier) *Judgement {
	if j := k.known[a]; j != nil {
		return j
	}
	j := k.q.judge(a)
	if k.w.Judged != nil {
		j.Text = k.w.Judged(j)
	}
	if len(k.known) >= maxKnown {
		clear(k.known)
	}
	k.known[a] = j
	return j
}

func (k *worker) do(next *job) {
	next.rows, next.out = slices.Grow(next.rows[:0], bytes.Count(next.block.Data, []byte{'\n'})+1), next.out[:0]
	for line, number := range next.block.Lines {
		row, problem := k.decoder.Row(line, number)
		if k.node != nil && row.ID != nil && !bytes.EqualFold(row.Node, k.node) {
			continue
		}
		o := outcome{problem: problem}
		if row.Alike != nil {
			o.j = k.judge(row.Alike)
			if w := k.w; (w.All || o.j.NeedsAttention()) && (w.Only == nil || w.Only(o.j)) {
				next.out = w.Row(next.out, row, o.j)
			}
			o.hash = k.hash(row.ID)
		} else if problem == nil {
			continue
		}
		o.line, o.id, o.node, o.end = number, row.ID, row.Node, len(next.out)
		next.rows = append(next.rows, o)
	}
}

// hash returns the same value for IDs that differ only in case.
func (k *worker) hash(id []byte) uint64 {
	k.lower = append(k.lower[:0], id...)
	for i, c := range k.lower {
		switch {
		case 'A' <= c && c <= 'Z':
			k.lower[i] = c + 'a' - 'A'
		case c >= 0x80:
			return maphash.Bytes(k.seed, bytes.ToLower(id))
		}
	}
	return maphash.Bytes(k.seed, k.lower)
}

// collector puts the workers' results together, in order.
type collector struct {
	file    string
	w       Writer
	to      io.Writer
	summary *Summary
	first   seen              // the line of each ID, by its hash
	node    []byte            // of the previous row, and count is its count: neighbors share nodes
	nodes   map[uint64]*Count // by the hash of their names in lower case
	seed    maphash.Seed
	count   *Count
	told    []byte // problems that have yet to be written
}

func newCollector(file string, w Writer, to io.Writer) *collector {
	return &collector{file: file, w: w, to: to, nodes: map[uint64]*Count{}, seed: maphash.MakeSeed(),
		summary: &Summary{Nodes: map[string]*Count{}, Rules: map[lineup.Rule]*Cause{},
			Changes: map[lineup.ChangeKind]*Cause{}}}
}

func (c *collector) take(done *job) error {
	// Rows in sequence are written out as they are; nearly always that is the whole
	// block.
	from, end := 0, 0
	var full error
	flush := func(next int) error {
		run := done.out[from:end]
		from, end = next, next
		if len(c.told) > 0 {
			defer func() { c.told = c.told[:0] }()
		}
		for _, text := range [][]byte{run, c.told} {
			if len(text) == 0 {
				continue
			}
			if _, err := c.to.Write(text); err != nil {
				return fmt.Errorf("the output can't be written: %w", err)
			}
		}
		return nil
	}
	for i := range done.rows {
		o := &done.rows[i]
		if o.problem != nil {
			c.problem(*o.problem)
		}
		twice := false
		if o.j != nil {
			if first := c.first.add(o.hash, uint32(o.line)); first != 0 {
				c.problem(plant.Twice(string(o.id), o.line, int(first)))
				twice = true
			}
		}
		if len(c.told) > 0 { // a problem comes before its row
			if err := flush(end); err != nil {
				return err
			}
		}
		if o.j == nil || twice {
			c.summary.LeftOut++
			if err := flush(o.end); err != nil {
				return err
			}
			continue
		}
		if full = c.tally(o); full != nil {
			break
		}
		end = o.end
	}
	c.summary.Lines = done.block.First - 1 + bytes.Count(done.block.Data, []byte{'\n'})
	if err := flush(end); err != nil {
		return err
	}
	if c.w.Progress != nil {
		c.w.Progress(c.summary.Lines)
	}
	return full
}

func (c *collector) problem(p table.Problem) {
	c.summary.Told++
	if len(c.summary.Problems) < maxTold {
		c.summary.Problems = append(c.summary.Problems, p)
	}
	if c.w.Problem != nil {
		c.told = c.w.Problem(c.told, p)
	}
}

// tally counts an amplifier. The error says that there are too many to keep.
func (c *collector) tally(o *outcome) error {
	s := c.summary
	tooMany := func(text, hint string) error {
		return &fault.Error{File: c.file, Line: o.line, Column: 1, Text: text, Hint: hint}
	}
	if s.Amps >= maxAmps {
		return tooMany("the inventory has more than 4 million amplifiers", "split it up, node by node")
	}
	if c.count == nil || !bytes.Equal(c.node, o.node) {
		if len(o.node) > maxNodeBytes {
			return tooMany("the node's name is longer than 1 kB", "is node the right column?")
		}
		c.node = append(c.node[:0], o.node...)
		// A node written in capitals in one place and not in another is one node.
		name := maphash.Bytes(c.seed, bytes.ToLower(c.node))
		if c.count = c.nodes[name]; c.count == nil {
			if len(s.Nodes) >= maxNodes {
				return tooMany("the inventory has more than 100,000 nodes", "is node the right column?")
			}
			c.count = &Count{}
			s.Nodes[string(c.node)], c.nodes[name] = c.count, c.count
		}
	}
	s.add(o.j)
	c.count.add(o.j)
	for _, f := range o.j.Report.Findings {
		if f.Severity == lineup.Note {
			break // the most serious come first
		}
		cause := s.Rules[f.Rule]
		if cause == nil {
			cause = &Cause{Name: string(f.Rule), Text: f.Text, ID: string(o.id)}
			s.Rules[f.Rule] = cause
		}
		cause.Amps++
	}
	if o.j.Change == nil {
		return nil
	}
	for i, ch := range o.j.Change.Changes {
		if i > 0 && ch.What == o.j.Change.Changes[i-1].What {
			continue // two neighbors of one amplifier
		}
		cause := s.Changes[ch.What]
		if cause == nil {
			cause = &Cause{Name: ch.What.String(), Text: ch.Text, ID: string(o.id)}
			s.Changes[ch.What] = cause
		}
		cause.Amps++
	}
	return nil
}

// Interrupted reports whether an error of [Run] means that it was told to stop.
func Interrupted(err error) bool { return errors.Is(err, context.Canceled) }
