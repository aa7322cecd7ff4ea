// Package audit checks every amplifier of an inventory against a lineup.
//
// [Run] streams: it reads rows in blocks, judges them in several goroutines, and writes
// them in the order of the file, the same bytes however many goroutines there are. Memory
// grows with the rows by only some 16 bytes each, so that an amplifier that is listed
// twice can be reported. Rows with the same settings are judged once.
package audit

import (
	"bytes"
	"cmp"
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
	// Slope judges the slope pilot of an amplifier that has one on the same row, and
	// SlopeChange is what happens to it; nil if there is none.
	Slope       *lineup.Report
	SlopeChange *lineup.Comparison
	// Text is what [Writer.Judged] returned for it.
	Text []byte

	rules   []cause[lineup.Rule]
	changes []cause[lineup.ChangeKind]
}

// NeedsAttention reports whether someone should look at the amplifiers, because their
// pilot is not plainly usable or a lineup change affects it.
func (j *Judgement) NeedsAttention() bool {
	changes := func(c *lineup.Comparison) bool { return c != nil && len(c.Changes) > 0 }
	return j.Verdict() != lineup.Usable || changes(j.Change) || changes(j.SlopeChange)
}

// Verdict returns the worse one of the verdicts on its pilots.
func (j *Judgement) Verdict() lineup.Verdict {
	if j.Slope != nil {
		return max(j.Report.Verdict, j.Slope.Verdict)
	}
	return j.Report.Verdict
}

// judge judges an amplifier's pilot.
func (q Request) judge(a *plant.Amplifier) *Judgement {
	j := &Judgement{Amplifier: a, ByDesign: a.Mode != lineup.AGC}
	if j.ByDesign {
		return j
	}
	j.Report, j.Change = q.compared(a.Amplifier)
	if at, ok := a.AtSlope(); ok {
		r, change := q.compared(at)
		j.Slope, j.SlopeChange = &r, change
	}
	if !a.Spare.IsZero() && a.Spare != a.Pilot {
		on := a.On(a.Spare)
		r := q.Lineup.CheckOne(a.Spare, lineup.Context{Amplifier: &on})
		j.Spare = &r
	}
	return j
}

// compared judges an amplifier at its pilot, and says what happens to that if there is a
// change to audit.
func (q Request) compared(a lineup.Amplifier) (lineup.Report, *lineup.Comparison) {
	if q.Before == nil {
		return q.Lineup.CheckOne(a.Pilot, lineup.Context{Amplifier: &a}), nil
	}
	c := lineup.Compare(q.Before, q.Lineup, a)
	return c.After, &c
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
	Row func(to []byte, r *plant.Row, j *Judgement) []byte
	// Problem appends what is wrong with a row, in whole lines; nil if problems are
	// reported at the end.
	Problem func(to []byte, p fault.Error) []byte
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
	if j.ByDesign {
		c.ByDesign++
	}
	*c.of(j.Verdict())++
}

// of returns the count of a verdict.
func (c *Count) of(v lineup.Verdict) *int {
	switch v {
	case lineup.Unusable:
		return &c.Unusable
	case lineup.WithCare:
		return &c.WithCare
	}
	return &c.Usable
}

// join counts the second row of an amplifier whose first row, with a verdict, was counted in
// a count, perhaps another node's: it is one amplifier, with the worse verdict.
func (c *Count) join(from *Count, first lineup.Verdict, j *Judgement) {
	from.Amps--
	*from.of(first)--
	c.Amps++
	*c.of(max(first, j.Verdict()))++
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
	Problems []fault.Error
	Told     int
	LeftOut  int
	Lines    int // how many lines were read
}

// How much of the inventory is read at once, and how many more blocks than workers are
// under way. Blocks are small so that what becomes of one stays in the processor's cache.
const (
	blockBytes = 64 << 10
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
	j       *Judgement
	problem *fault.Error
	hash    uint64 // of the ID in lower case
	line    int
	end     int // end of what it wrote, in the job's out
	// ID and node, nearly always as they stand in the block.
	id, node []byte
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
			next.buffer = next.block.Data[:cap(next.block.Data)] // a longer one if a line needed it
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
	c := newCollector(inv, w, to)
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
	j.rules, j.changes = j.causes()
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
	nodes   map[uint64]uint32 // indexes of counts, by the hash of their nodes' names in lower case
	counts  []*Count
	seed    maphash.Seed
	count   *Count
	// spans says which rows have which node, if an amplifier may have a second row, far from
	// its first.
	spans  []span
	joined bool
	told   []byte // problems that have yet to be written
}

// span is where a node's rows begin: they go on to the next span.
type span struct{ line, node uint32 }

func newCollector(inv *plant.Inventory, w Writer, to io.Writer) *collector {
	_, roles := inv.Place("role")
	return &collector{file: inv.File, w: w, to: to, nodes: map[uint64]uint32{}, seed: maphash.MakeSeed(),
		joined: roles, summary: &Summary{Nodes: map[string]*Count{}, Rules: map[lineup.Rule]*Cause{},
			Changes: map[lineup.ChangeKind]*Cause{}}}
}

// fetched is how many rows' entries are fetched at once.
const fetched = 32

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
		if i%fetched == 0 {
			c.first.fetch(done.rows[i:min(i+fetched, len(done.rows))])
		}
		o := &done.rows[i]
		if o.problem != nil {
			c.problem(*o.problem)
		}
		twice, other := false, entry(0)
		if o.j != nil {
			other, twice = c.row(o)
			if twice {
				c.problem(plant.Twice(string(o.id), o.line, other.line()))
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
		if full = c.tally(o, other); full != nil {
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

// row notes a row of an amplifier. It returns the other row that the amplifier has, 0 if
// there is none; twice reports that there can't be two such rows.
func (c *collector) row(o *outcome) (other entry, twice bool) {
	e, known := c.first.at(o.hash)
	now := entryOf(o)
	if !known {
		*e = now
		return 0, false
	}
	other = *e
	// One row is the main pilot's and one the slope pilot's: as package plant joins
	// them. A row that gives both is whole by itself.
	if other&(wholeRow|bothRows) != 0 || now&wholeRow != 0 || (other&lowRow != 0) == (now&lowRow != 0) {
		return other, true
	}
	*e |= bothRows
	return other, false
}

func (c *collector) problem(p fault.Error) {
	c.summary.Told++
	if len(c.summary.Problems) < maxTold {
		c.summary.Problems = append(c.summary.Problems, p)
	}
	if c.w.Problem != nil {
		c.told = c.w.Problem(c.told, p)
	}
}

// tally counts an amplifier, or the second row of one whose first row is given. The error
// says that there are too many to keep.
func (c *collector) tally(o *outcome, first entry) error {
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
		at, known := c.nodes[name]
		if !known {
			if len(s.Nodes) >= maxNodes {
				return tooMany("the inventory has more than 100,000 nodes", "is node the right column?")
			}
			at = uint32(len(c.counts))
			c.counts, c.nodes[name] = append(c.counts, &Count{}), at
			s.Nodes[string(c.node)] = c.counts[at]
		}
		c.count = c.counts[at]
		if c.joined {
			c.spans = append(c.spans, span{uint32(o.line), at})
		}
	}
	if first != 0 {
		s.join(&s.Count, first.verdict(), o.j)
		from := c.nodeOf(first.line())
		to := from
		if first&lowRow != 0 { // the amplifier is where its main row says
			to = c.count
		}
		to.join(from, first.verdict(), o.j)
	} else {
		s.add(o.j)
		c.count.add(o.j)
	}
	counted(s.Rules, o.j.rules, o.id)
	counted(s.Changes, o.j.changes, o.id)
	return nil
}

// nodeOf returns the count of the node of an earlier row.
func (c *collector) nodeOf(line int) *Count {
	next, _ := slices.BinarySearchFunc(c.spans, uint32(line)+1, func(s span, line uint32) int {
		return cmp.Compare(s.line, line)
	})
	return c.counts[c.spans[next-1].node]
}

// counted counts an amplifier for each of its causes.
func counted[K comparable](all map[K]*Cause, causes []cause[K], id []byte) {
	for i := range causes {
		of := &causes[i]
		if of.in == nil {
			if all[of.key] == nil {
				all[of.key] = &Cause{Name: of.name, Text: of.text, ID: string(id)}
			}
			of.in = all[of.key]
		}
		of.in.Amps++
	}
}

// cause is a cause, by its key in a summary.
type cause[K comparable] struct {
	key        K
	name, text string
	in         *Cause // in the summary; the collector's, nil until it has met the cause
}

// causes lists, once each, why amplifiers of a judgement need attention: a rule that both
// pilots break, or a change of two neighbors, is one cause.
func (j *Judgement) causes() (rules []cause[lineup.Rule], changes []cause[lineup.ChangeKind]) {
	for _, r := range []*lineup.Report{&j.Report, j.Slope} {
		if r == nil {
			continue
		}
		for _, f := range r.Findings {
			known := slices.ContainsFunc(rules, func(c cause[lineup.Rule]) bool { return c.key == f.Rule })
			if f.Severity > lineup.Note && !known {
				rules = append(rules, cause[lineup.Rule]{key: f.Rule, name: string(f.Rule), text: f.Text})
			}
		}
	}
	for _, c := range []*lineup.Comparison{j.Change, j.SlopeChange} {
		if c == nil {
			continue
		}
		for _, ch := range c.Changes {
			if !slices.ContainsFunc(changes, func(c cause[lineup.ChangeKind]) bool { return c.key == ch.What }) {
				changes = append(changes, cause[lineup.ChangeKind]{key: ch.What, name: ch.What.String(), text: ch.Text})
			}
		}
	}
	return rules, changes
}

// Interrupted reports whether an error of [Run] means that it was told to stop.
func Interrupted(err error) bool { return errors.Is(err, context.Canceled) }
