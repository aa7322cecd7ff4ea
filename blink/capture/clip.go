package capture

import (
	"cmp"
	"context"
	"errors"
	"io"
	"runtime"
	"slices"
	"sync"
	"time"

	"tallywink.example/blink/capture/drift"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/blink/capture/spot"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/fault"
)

// Lamp is a lamp that was found in a clip, and what it shows.
type Lamp struct {
	reading.TimedResult
	// X and Y are the position of its middle, and Size is its width, in pixels of the
	// clip's first picture.
	X, Y, Size float64
	// From is the time since the beginning from which it was followed.
	From time.Duration
	// Unsteady reports whether its levels changed too much to be believed.
	Unsteady bool
	// Coarse reports that a picture lasts longer than a unit, so that marks can pass
	// between two pictures.
	Coarse bool
}

// Doubtful reports whether the lamp's best candidate is not sure, its brightness not
// steady enough to be believed, or pictures come too seldom for it.
func (l Lamp) Doubtful() bool { return l.Unsteady || l.Coarse || l.TimedResult.Doubtful() }

// Clip is what was found in a video.
type Clip struct {
	Width, Height int // of a picture, in pixels
	Pictures      int
	Length        time.Duration
	// Even reports whether the pictures come at even times, as from a camera, and not only
	// when something changes, as in a drawn GIF.
	Even bool
	// Lamps are the lamps found, the most certain first.
	Lamps []Lamp
	// Unread is the spot that blinks most clearly without following the code, if no lamp
	// was found. It is nil if nothing blinks at all.
	Unread *Lamp
	// Broken is the reason why the clip could not be read to its end, or nil. The clip
	// contains what came before.
	Broken *fault.Error
}

// fewPictures is too few pictures to read anything from.
const fewPictures = 2

// leastFit is how much better, in natural logarithm, the code must explain a spot's
// light than a stranger's light would, for the spot to be a lamp: a hundred times.
// Among many leaves, one may by chance keep the time of a slow rhythm, but its two
// levels are not clear. If they are not clear, surelyFit applies instead.
const (
	leastFit  = 4.6
	surelyFit = 20.0
	clear     = 8 // deviations of brightness in its swing
	// chanceShare is the share of a sure lamp's fit that a doubtful lamp next to it needs
	// to be reported.
	chanceShare = 0.2
)

// ReadClip finds lamps in a video and reads them. If progress is not nil, it is called
// with how far the clip has been read. A clip that breaks off is read as far as it
// goes. The error is a [*fault.Error], the reader's, or the context's.
func ReadClip(ctx context.Context, m movie.Movie, reader *reading.TimedReader,
	progress func(time.Duration)) (*Clip, error) {
	width, height := m.Size()
	live := newLive(width, height, spot.NewFinder)
	live.finder.Color(m.ChromaSize())
	length, broken, err := live.watch(ctx, m, progress)
	if err != nil {
		return nil, err
	}
	if live.pictures < fewPictures {
		return nil, &fault.Error{Text: "it has a single picture",
			Hint: "record the lamp for a frame or two, ten seconds at least"}
	}
	live.finish(length)
	seen := live.seen(live.finder.Spots)
	seen.Length = length
	clip, err := seen.Read(ctx, reader)
	clip.Broken = broken
	return clip, err
}

// watch passes on all pictures of a movie. A goroutine reads and averages them ahead.
// It returns how long the movie is and, if it breaks off, why.
func (l *Live) watch(ctx context.Context, m movie.Movie, progress func(time.Duration)) (length time.Duration,
	broken *fault.Error, err error) {
	const ahead = 4
	shots := make(chan shot, ahead)
	free := make(chan *spot.Averaged, ahead+2) // to be filled again
	ctx, stop := context.WithCancel(ctx)
	// The goroutine has ended when this returns: the movie belongs to the caller.
	defer func() {
		stop()
		for range shots {
		}
	}()
	go func() {
		defer close(shots)
		for {
			var s shot
			select {
			case s.picture = <-free:
			default:
				s.picture = l.finder.NewAveraged()
			}
			s.at, s.err = m.Next(func(plane movie.Plane, top int,
				rows []uint8) {
				s.picture.Take(int(plane), top, rows)
			})
			select {
			case shots <- s:
			case <-ctx.Done():
				return
			}
			if s.err != nil {
				return
			}
		}
	}()
	for s := range shots {
		if s.err != nil {
			switch {
			case s.err == io.EOF:
				return m.Length(), nil, ctx.Err()
			case errors.As(s.err, &broken) && l.pictures >= fewPictures:
				return max(m.Length(), l.last.at), broken, ctx.Err()
			}
			return 0, nil, s.err
		}
		before := l.last.picture
		l.add(s)
		if before != nil {
			select {
			case free <- before:
			default:
			}
		}
		if progress != nil {
			progress(s.at)
		}
		if err := ctx.Err(); err != nil {
			return 0, nil, err
		}
	}
	return 0, nil, ctx.Err()
}

// track turns a spot's brightness into intervals.
type track struct {
	*splitter
	begun bool
	from  float64
	kept  []Sample // the last keptSeconds at least
}

// keptSeconds is how much of a spot's brightness is kept for the model of ambient light, which
// costs many times the search for two levels.
const keptSeconds = 60

// Sample is the brightness of a spot in a picture, in gray levels, and its time in seconds
// since the spot was found.
type Sample struct{ Seconds, Bright float64 }

func newTrack() *track { return &track{splitter: newSplitter()} }

// Add takes the brightness of the next picture.
func (t *track) Add(seconds, bright float64) {
	if !t.begun {
		t.begun, t.from = true, seconds
	}
	if t.full() {
		return
	}
	t.add(seconds-t.from, bright)
	if n := len(t.kept); n > 0 && t.kept[n/2].Seconds < seconds-t.from-keptSeconds {
		t.kept = append(t.kept[:0], t.kept[n/2:]...)
	}
	t.kept = append(t.kept, Sample{seconds - t.from, bright})
}

// Read reads what was seen. It takes longer than looking, and needs nothing that is
// still being watched, so it may run in a goroutine or a process of its own. The error
// is the context's.
func (s *Seen) Read(ctx context.Context, reader *reading.TimedReader) (*Clip, error) {
	c := &Clip{Width: s.Width, Height: s.Height, Pictures: s.Pictures, Length: s.Length, Even: s.Even}
	reader = reader.Sampled(s.Step)
	results := make([]reading.TimedResult, len(s.Blinking))
	unsteady, errs := make([]bool, len(s.Blinking)), make([]error, len(s.Blinking))
	var wait sync.WaitGroup
	turn := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, b := range s.Blinking {
		wait.Go(func() {
			turn <- struct{}{}
			results[i], unsteady[i], errs[i] = b.read(ctx, reader)
			<-turn
		})
	}
	wait.Wait()
	if err := errors.Join(errs...); err != nil {
		return c, ctx.Err()
	}
	for i, b := range s.Blinking {
		l := Lamp{TimedResult: results[i], X: b.X, Y: b.Y, Size: b.Size, From: b.From, Unsteady: unsteady[i],
			Coarse: results[i].Unit > 0 && results[i].Unit < s.Step}
		switch {
		case l.Fit > surelyFit, l.Fit > leastFit && b.Clarity > clear:
			for i := range l.Sequence {
				l.Sequence[i].From += l.From
				l.Sequence[i].To += l.From
			}
			c.Lamps = append(c.Lamps, l)
		case c.Unread == nil:
			c.Unread = &l
		}
	}
	slices.SortStableFunc(c.Lamps, func(a, b Lamp) int {
		if a.Doubtful() != b.Doubtful() {
			if a.Doubtful() {
				return 1
			}
			return -1
		}
		return cmp.Compare(b.Fit, a.Fit)
	})
	if len(c.Lamps) > 0 {
		c.Unread = nil
		// Next to a lamp that is sure, a far weaker match is chance.
		best := c.Lamps[0]
		c.Lamps = slices.DeleteFunc(c.Lamps, func(l Lamp) bool {
			return !best.Doubtful() && l.Doubtful() && (l.Unsteady || l.Fit < max(surelyFit, chanceShare*best.Fit))
		})
	}
	return c, nil
}

// read reads a place's light. A shadow that swings can look like a slow rhythm between two
// levels, so a rhythm counts only if the model of ambient light finds a lamp there and, where
// ambient light moves, the same rhythm. A frame is no shadow's.
func (b Blinking) read(ctx context.Context, reader *reading.TimedReader) (result reading.TimedResult, unsteady bool,
	err error) {
	result, err = reader.ReadPieces(ctx, b.Pieces, nil)
	if err != nil || b.Unsteady || result.Doubtful() || result.Best().Signal.ShowsFrame() {
		return result, b.Unsteady, err
	}
	var model drift.Splitter
	for _, s := range b.Samples {
		model.Add(s.Seconds, s.Bright)
	}
	pieces := model.Finish()
	if len(pieces) == 0 || model.Tame() {
		return result, len(pieces) == 0, nil
	}
	moving, err := reader.ReadPieces(ctx, pieces, nil)
	return result, moving.Doubtful() || moving.Best().Signal != result.Best().Signal, err
}

const (
	// briefest is half of the shortest possible stretch, and brief is the share of
	// stretches that may be shorter: more than that are leaves, not a lamp.
	briefest = 50 * time.Millisecond
	brief    = 0.3
	// fewChanges is too few changes for a lamp: something passed by.
	fewChanges = 4
)

// plausible is a quick check: it reports whether pieces can be a lamp's at all.
func (t *track) plausible(pieces []reading.Piece) bool {
	stretches, short := 0, 0
	for _, p := range pieces {
		for _, iv := range p.Intervals {
			stretches++
			if iv.Duration < briefest {
				short++
			}
		}
	}
	return !t.full() && stretches > fewChanges && float64(short) <= brief*float64(stretches) && !t.soft(stretches)
}
