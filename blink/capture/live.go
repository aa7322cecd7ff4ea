package capture

import (
	"cmp"
	"math"
	"slices"
	"time"

	"tallywink.example/blink/capture/movie"
	"tallywink.example/blink/capture/spot"
	"tallywink.example/blink/reading"
)

// Live takes pictures one by one, as a camera delivers them, and can report at any time
// what the lamps in them have shown so far. It keeps the last half minute, so memory
// does not grow no matter how long someone watches. It is not safe for concurrent use.
type Live struct {
	width, height     int
	finder            *spot.Finder
	last              shot // not passed on yet: its end is not known
	spare             *spot.Averaged
	first             time.Duration // when the first picture was taken
	pictures          int
	shortest, longest time.Duration // from one picture to the next
}

// shot is a picture with its time, or the reason why there is none.
type shot struct {
	at      time.Duration
	picture *spot.Averaged
	err     error
}

// NewLive begins to watch pictures of a size in pixels.
func NewLive(width, height int) *Live {
	l := newLive(width, height, spot.NewRolling)
	l.finder.Color((width+1)/2, (height+1)/2)
	return l
}

func newLive(width, height int, finder func(width, height int, newFollower func() spot.Follower) *spot.Finder) *Live {
	return &Live{width: width, height: height, shortest: math.MaxInt64,
		finder: finder(width, height, func() spot.Follower { return newTrack() })}
}

// Picture is a picture's pixels, 0 to 255, row by row from the top: its brightness and,
// unless it is gray, its color differences as ITU-R BT.601 defines them, a sample for
// each two by two pixels, 128 for gray. A last odd row or column has samples of its own.
type Picture struct{ Luma, BlueDifference, RedDifference []uint8 }

// Add takes the next picture and its time, since any starting point. Pictures that are
// not later than the one before are skipped. The caller may reuse the pixels when it
// returns.
func (l *Live) Add(at time.Duration, picture Picture) {
	gray, blue, red := picture.Luma, picture.BlueDifference, picture.RedDifference
	if l.pictures > 0 && at <= l.last.at || len(gray) < l.width*l.height {
		return
	}
	p := l.spare
	if p == nil {
		p = l.finder.NewAveraged()
	}
	const band = 64 // rows, as Take wants them
	for top := 0; top < l.height; top += band {
		p.Take(int(movie.Luma), top, gray[top*l.width:min(top+band, l.height)*l.width])
	}
	width, height := (l.width+1)/2, (l.height+1)/2
	for top := 0; top < height && min(len(blue), len(red)) >= width*height; top += band {
		from, to := top*width, min(top+band, height)*width
		p.Take(int(movie.BlueDifference), top, blue[from:to])
		p.Take(int(movie.RedDifference), top, red[from:to])
	}
	l.spare = l.last.picture
	l.add(shot{at: at, picture: p})
}

// add passes on the previous picture, whose end is now known.
func (l *Live) add(s shot) {
	if l.pictures == 0 {
		l.first = s.at
	} else {
		l.shortest, l.longest = min(l.shortest, s.at-l.last.at), max(l.longest, s.at-l.last.at)
		l.finder.Add(l.last.at, s.at, l.last.picture)
	}
	l.last = s
	l.pictures++
}

// finish adds the last picture, which is shown until a time, and searches the pictures
// that have come.
func (l *Live) finish(until time.Duration) {
	if l.pictures > 0 {
		l.finder.Add(l.last.at, max(until, l.last.at+1), l.last.picture)
		l.finder.Finish()
	}
}

// Seen is what was found in the pictures so far, ready to be read. It is plain data and
// can be sent to another process.
type Seen struct {
	Width, Height int // of a picture, in pixels
	Pictures      int
	Length        time.Duration
	Even          bool // see [Clip]
	// Step is the usual time from one picture to the next where they come at even
	// times, else 0.
	Step     time.Duration
	Blinking []Blinking // possible lamps, the strongest first
}

// Blinking is a place in the picture where something blinks.
type Blinking struct {
	X, Y, Size float64 // see [Lamp]
	Swing      float64 // gray levels
	From       time.Duration
	Pieces     []reading.Piece // its light, from From on
	Samples    []Sample        // its brightness in the last minute at least
	Unsteady   bool            // its levels changed too much to be believed
	Clarity    float64         // deviations of brightness in its swing
}

// Look searches the pictures so far. It takes a moment, and may be called every second
// or two.
func (l *Live) Look() *Seen { return l.seen(l.finder.Look()) }

// seen turns spots into possible lamps.
func (l *Live) seen(spots []*spot.Spot) *Seen {
	seen := &Seen{Width: l.width, Height: l.height, Pictures: l.pictures, Length: l.last.at - l.first,
		Even: l.longest < l.shortest+l.shortest/2}
	if seen.Even && l.pictures > 1 {
		seen.Step = (l.last.at - l.first) / time.Duration(l.pictures-1)
	}
	for _, s := range spots {
		t := s.Follow.(*track)
		if pieces := t.finish(); t.plausible(pieces) {
			seen.Blinking = append(seen.Blinking, Blinking{s.X, s.Y, s.Size, s.Swing, duration(t.from), pieces,
				t.kept, t.unsteady(), t.clarity})
		}
	}
	slices.SortStableFunc(seen.Blinking, func(a, b Blinking) int { return cmp.Compare(b.Swing, a.Swing) })
	return seen
}
