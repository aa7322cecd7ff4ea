package trainer

import (
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
)

// read makes the readers once, since that takes a moment.
var read = sync.OnceValue(func() WatchReaders { return NewWatchReaders(blink.Tally, nil) })

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func press(w *Watching, at time.Duration, keys ...rune) {
	for _, k := range keys {
		w.Key(k, noon.Add(at))
	}
}

// weighNow does what the loop does in the background.
func (w *Watching) weighNow(at time.Duration) {
	w.tick(noon.Add(at))
	if w.stale {
		w.stale, w.candidates = false, w.weigher(noon.Add(at))()
	}
}

// watched is what was tapped, with Enter at a time; the session continues.
func watched(w *Watching, at time.Duration) Watched {
	ended := *w
	ended.Key(KeyEnter, noon.Add(at))
	return ended.Watched()
}

// seen is the screen as text.
func seen(w *Watching, at time.Duration, width, height int) string {
	var b strings.Builder
	for _, r := range w.rows(noon.Add(at), width, height) {
		b.WriteString(r.text + "\n")
	}
	return b.String()
}

// tapFrame taps a frame beginning at a time, each mark when it is over, and returns
// when the long dark is over.
func tapFrame(w *Watching, f blink.Frame, at, unit time.Duration) time.Duration {
	t := blink.Tally.Timing
	for _, g := range f {
		for _, m := range string(g) {
			lit := t.Short
			if m == blink.LongMark {
				lit = t.Long
			}
			at += time.Duration(lit) * unit
			press(w, at, m)
			w.weighNow(at)
			at += time.Duration(t.MarkGap) * unit
		}
		at += time.Duration(t.GroupGap-t.MarkGap) * unit
	}
	return at + time.Duration(t.Rest-t.GroupGap)*unit
}

// A frame tapped along with the lamp: candidates narrow with every group, and the
// answer locks when the frame is complete, not before.
func TestWatchNarrowsAndLocks(t *testing.T) {
	w := NewWatching(read())
	assert.Contains(t, seen(w, 0, 40, 16), "Nothing tapped yet.")
	frame, err := blink.Tally.Encode(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital})
	require.NoError(t, err)

	at := time.Duration(0)
	var counts []int
	for i := range frame {
		at = tapFrame(w, frame[i:i+1], at, 200*time.Millisecond) - 8*200*time.Millisecond
		if i == 0 {
			continue // a group is known to be complete only when the next one has begun
		}
		require.NotEmpty(t, w.candidates, "after group %d", i)
		likely := 0
		for _, c := range w.candidates {
			if c.probability > 0.05 {
				likely++
			}
		}
		counts = append(counts, likely)
		assert.NotContains(t, seen(w, at, 40, 16), "SURE", "after group %d", i)
	}
	assert.Equal(t, []int{0, 5, 1}, counts, "of the five that are shown: anything of one head, ten units, one")
	w.weighNow(at + 3*time.Second)
	text := seen(w, at+3*time.Second, 40, 16)
	assert.Contains(t, text, "Marks: _.. . _. _..\n")
	assert.Contains(t, text, " SURE: 116 digital \n")
	assert.Contains(t, text, "100% ######## 116 digital\n")

	r := watched(w, at+3*time.Second)
	assert.Equal(t, []blink.Frame{frame}, r.Looks)
	assert.False(t, r.Left)
	assert.Equal(t, 9, r.Taps)
}

// Begun in the middle of a frame: that part is left out once a whole frame has come.
func TestWatchBegunInTheMiddle(t *testing.T) {
	w := NewWatching(read())
	frame, err := blink.Tally.Encode(channelplan.Pilot{Channel: 73, Kind: channelplan.Analog})
	require.NoError(t, err)
	at := tapFrame(w, frame[2:], 0, 250*time.Millisecond)
	at = tapFrame(w, frame, at, 250*time.Millisecond)
	w.weighNow(at)
	assert.Contains(t, seen(w, at, 40, 16), "SURE: 73 analog")
	assert.Equal(t, []blink.Frame{frame}, watched(w, at).Looks)
}

// Each change of the light is tapped: every state is found, and the time without a
// change counts.
func TestWatchFollowsTheLight(t *testing.T) {
	w := NewWatching(read())
	at := time.Duration(0)
	for range 2 {
		for _, units := range []int{6, 4, 6, 18} { // holding
			press(w, at, ' ')
			at += time.Duration(units) * 200 * time.Millisecond
		}
	}
	w.weighNow(at - 3*time.Second) // right after the second flash: a third may come
	assert.NotContains(t, seen(w, at, 40, 16), "SURE")
	w.weighNow(at)
	assert.Contains(t, seen(w, at, 40, 16), "Light: 8 changes, dark now\n SURE: holding")
	r := watched(w, at)
	assert.Len(t, r.Light, 9)
	assert.Equal(t, at, r.Length)
	assert.Empty(t, r.Looks)
	assert.Equal(t, blink.Holding, read().light().Read(r.Light).Best().Signal.State)
}

// If taps are undone while they are weighed in the background, the result is no longer
// valid when it comes.
func TestWatchForgetsWhatWasTakenBack(t *testing.T) {
	w := NewWatching(read())
	press(w, 0, ' ', ' ')
	before := w.turn
	press(w, time.Second, 'r')
	assert.NotEqual(t, before, w.turn)
	press(w, 2*time.Second, '.')
	before = w.turn
	w.Key(KeyBackspace, noon)
	assert.NotEqual(t, before, w.turn)
}

func TestWatchKeys(t *testing.T) {
	w := NewWatching(read())
	press(w, 0, '.', 'q', 'x')
	press(w, time.Second, '_')
	assert.Contains(t, seen(w, time.Second, 40, 16), "Marks: .? _~")
	w.Key(KeyBackspace, noon)
	assert.Len(t, w.taps, 2)
	press(w, 3*time.Second, ' ')
	assert.Contains(t, seen(w, 3*time.Second, 40, 16), "Marks or Space, not both: r restarts.")
	press(w, 3*time.Second, 'b', 'n')
	text := seen(w, 3*time.Second, 40, 16)
	assert.Contains(t, text, "Bars: 1, edge (low end)")
	assert.Contains(t, text, "You did not see the long dark before.")
	r := watched(w, 4*time.Second)
	assert.Equal(t, blink.EndLow, r.End)
	assert.Equal(t, reading.StartUnseen, r.Start)
	press(w, 3*time.Second, 'b', 'b')
	assert.Equal(t, blink.NoEnd, watched(w, 0).End)
	press(w, 4*time.Second, 'r')
	assert.Contains(t, seen(w, 4*time.Second, 40, 16), "Nothing tapped yet.")
	press(w, 4*time.Second, ' ', '.')
	assert.Empty(t, w.taps)
	for range 2 { // one more than there is to undo
		w.Key(KeyBackspace, noon)
	}
	w.Key(KeyRight, noon)
	w.Key(KeyLeft, noon)
	assert.Len(t, w.taps, 2)
	for range 500 {
		press(w, time.Minute, '.')
	}
	assert.Len(t, w.taps, maxTaps)
	assert.Contains(t, seen(w, time.Minute, 40, 16), "No room for more: Enter or r.")
	w.Key(KeyEscape, noon)
	assert.True(t, w.Over())
	assert.True(t, w.Watched().Left)
}

// Rows fit in 40 columns, whatever was tapped. If rows are few, what was tapped stays
// and help goes.
func TestWatchFitsSmallScreens(t *testing.T) {
	w := NewWatching(read())
	at := time.Duration(0)
	frame, err := blink.Tally.Encode(channelplan.Pilot{Channel: 199, Kind: channelplan.CW})
	require.NoError(t, err)
	for range 4 {
		at = tapFrame(w, frame, at, 200*time.Millisecond)
	}
	w.weighNow(at)
	press(w, at, 'n', 'b', ' ')
	for _, line := range strings.Split(seen(w, at, 40, 24), "\n") {
		assert.LessOrEqual(t, len(line), 40, line)
	}
	small := seen(w, at, 40, 10)
	assert.NotContains(t, small, "a short pulse")
	assert.Contains(t, small, "SURE: 199 cw")
}
