package capture_test

import (
	"context"
	"io"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan"
)

// push feeds a film's pictures to a Live until a time, and returns how many came.
func push(t testing.TB, f *film, l *capture.Live, until time.Duration) (pictures int) {
	gray := make([]uint8, f.width*f.height)
	for f.at < until {
		at, err := f.Next(func(_ movie.Plane, top int, rows []uint8) { copy(gray[top*f.width:], rows) })
		if err == io.EOF {
			return pictures
		}
		require.NoError(t, err)
		l.Add(at, capture.Picture{Luma: gray})
		pictures++
	}
	return pictures
}

// Pictures that are pushed one by one are read like those of a movie. What the lamp may
// show narrows as they come, nothing is sure too early, and a lamp that changes long
// after is reported as what it shows then.
func TestLive(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 21))
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	v := view{width: 320, height: 240, rate: 30, noise: 3, texture: 25, shake: 2, seconds: 60}
	first, then := lampOf(signal, 200*time.Millisecond, 160, 120, 13, random),
		lampOf(blink.Signal{State: blink.Holding}, 200*time.Millisecond, 160, 120, 13, random)
	v.lamps = []filmed{first}
	f := newFilm(v, random)
	l := capture.NewLive(320, 240)
	for _, at := range []time.Duration{2, 4, 6, 30} {
		push(t, f, l, at*time.Second)
		clip, err := l.Look().Read(t.Context(), reader())
		require.NoError(t, err)
		sure := slices.ContainsFunc(clip.Lamps, func(l capture.Lamp) bool { return !l.Doubtful() })
		switch {
		case at < 6:
			assert.False(t, sure, "after %d s there is less than a frame", at)
		case at == 30:
			require.NotEmpty(t, clip.Lamps)
			assert.True(t, sure)
			assert.Equal(t, signal, clip.Lamps[0].Best().Signal)
			assert.InDelta(t, 160, clip.Lamps[0].X, 8)
			assert.InDelta(t, 30, clip.Length.Seconds(), 0.1)
		}
	}
	// It changes, and is watched for longer than pictures are kept.
	f.lamps = []filmed{then}
	f.seconds = 90
	push(t, f, l, 90*time.Second)
	clip, err := l.Look().Read(t.Context(), reader())
	require.NoError(t, err)
	require.NotEmpty(t, clip.Lamps)
	assert.Equal(t, blink.Holding, clip.Lamps[0].Best().Signal.State)
	assert.False(t, clip.Lamps[0].Doubtful())

	// A picture that comes too late or is too small is skipped; a caller that does not
	// wait for the answer does not get one.
	before := l.Look().Pictures
	l.Add(time.Second, capture.Picture{Luma: make([]uint8, 320*240)})
	l.Add(time.Hour, capture.Picture{Luma: make([]uint8, 10)})
	assert.Equal(t, before, l.Look().Pictures)
	stopped, stop := context.WithCancel(t.Context())
	stop()
	_, err = l.Look().Read(stopped, reader())
	assert.ErrorIs(t, err, context.Canceled)
	empty, err := capture.NewLive(320, 240).Look().Read(t.Context(), reader())
	require.NoError(t, err)
	assert.Empty(t, empty.Lamps)
}

// BenchmarkLive takes pictures of 640 x 480, against a plain copy of them, and looks
// and reads after 24 seconds of pictures.
func BenchmarkLive(b *testing.B) {
	random := rand.New(rand.NewPCG(12, 12))
	f := newFilm(view{width: 640, height: 480, rate: 30, noise: 3, texture: 25, shake: 2, seconds: 24,
		lamps: []filmed{lampOf(blink.Signal{State: blink.Locked,
			Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}, 200*time.Millisecond, 300, 200, 20,
			random)}}, random)
	gray := make([]uint8, 640*480)
	_, err := f.Next(func(_ movie.Plane, top int, rows []uint8) { copy(gray[top*640:], rows) })
	require.NoError(b, err)
	b.Run("picture", func(b *testing.B) {
		l := capture.NewLive(640, 480)
		b.SetBytes(int64(len(gray)))
		at := time.Duration(0)
		for b.Loop() {
			at += 33 * time.Millisecond
			l.Add(at, capture.Picture{Luma: gray})
		}
	})
	b.Run("baseline-copy", func(b *testing.B) {
		into := make([]uint8, len(gray))
		b.SetBytes(int64(len(gray)))
		for b.Loop() {
			copy(into, gray)
		}
	})
	l := capture.NewLive(640, 480)
	push(b, f, l, 24*time.Second)
	b.Run("look", func(b *testing.B) {
		for b.Loop() {
			l.Look()
		}
	})
	b.Run("read", func(b *testing.B) {
		seen := l.Look()
		for b.Loop() {
			clip, err := seen.Read(b.Context(), reader())
			require.NoError(b, err)
			require.NotEmpty(b, clip.Lamps)
		}
	})
}

// Pictures may be timed from anywhere: a page counts from when it was loaded.
func TestLiveFromAnywhere(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 31))
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	f := newFilm(view{width: 160, height: 120, rate: 25, noise: 3, texture: 25, shake: 1, seconds: 25,
		lamps: []filmed{lampOf(signal, 200*time.Millisecond, 80, 60, 9, random)}}, random)
	l := capture.NewLive(160, 120)
	gray := make([]uint8, 160*120)
	for {
		at, err := f.Next(func(_ movie.Plane, top int, rows []uint8) { copy(gray[top*f.width:], rows) })
		if err == io.EOF {
			break
		}
		l.Add(1000*time.Second+at, capture.Picture{Luma: gray})
	}
	seen := l.Look()
	assert.InDelta(t, 0.04, seen.Step.Seconds(), 1e-6)
	assert.InDelta(t, 24.96, seen.Length.Seconds(), 1e-3)
	clip, err := seen.Read(context.Background(), reader())
	require.NoError(t, err)
	require.NotEmpty(t, clip.Lamps)
	assert.Equal(t, signal, clip.Lamps[0].Best().Signal)
	assert.False(t, clip.Lamps[0].Doubtful())
}

// A camera that was moved far to the lamp, slowly: it is found where it is now.
func TestLiveAfterAPan(t *testing.T) {
	random := rand.New(rand.NewPCG(32, 32))
	signal, lit, seconds := shown(random, 200*time.Millisecond)
	h := newHandheld(handheld{width: 160, height: 120, rate: 25, base: 115, diameter: 11, contrast: 110, noise: 3,
		shake: 1, x: 180, y: 60, lit: lit, seconds: 8 + seconds,
		path: func(at float64) (float64, float64) { return 100 * min(at/8, 1), 0 }}, random)
	l := capture.NewLive(160, 120)
	gray := make([]uint8, 160*120)
	for {
		at, err := h.Next(func(_ movie.Plane, top int, rows []uint8) { copy(gray[top*160:], rows) })
		if err == io.EOF {
			break
		}
		l.Add(at, capture.Picture{Luma: gray})
	}
	clip, err := l.Look().Read(context.Background(), reader())
	require.NoError(t, err)
	require.NotEmpty(t, clip.Lamps)
	assert.Equal(t, signal, clip.Lamps[0].Best().Signal)
}
