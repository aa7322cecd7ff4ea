package ffmpeg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// shown is a picture with its time.
type shown struct {
	At   time.Duration
	Gray []uint8
}

// pictures reads a video to its end.
func pictures(m movie.Movie) ([]shown, error) {
	width, height := m.Size()
	var all []shown
	for {
		p := shown{Gray: make([]uint8, width*height)}
		at, err := m.Next(func(plane movie.Plane, top int, rows []uint8) {
			if plane == movie.Luma {
				copy(p.Gray[top*width:], rows)
			}
		})
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return all, err
		}
		p.At = at
		all = append(all, p)
	}
}

// fakeFFmpeg puts a script in the place of ffmpeg.
func fakeFFmpeg(t *testing.T, script string) {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "ffmpeg"), []byte("#!/bin/sh\n"+script), 0o755))
	t.Setenv("PATH", dir+string(os.PathListSeparator)+os.Getenv("PATH"))
}

func TestFFmpegThatFails(t *testing.T) {
	read := func(stalled time.Duration) error {
		m, closer, err := open(context.Background(), "lamp.mp4", nil, stalled)
		if err != nil {
			return err
		}
		defer closer.Close()
		_, err = pictures(m)
		return err
	}
	t.Run("it complains", func(t *testing.T) {
		fakeFFmpeg(t, "echo 'lamp.mp4: not a movie' >&2; exit 1\n")
		require.ErrorContains(t, read(time.Minute), "ffmpeg failed: lamp.mp4: not a movie; is this a video?")
	})
	t.Run("it dies in the middle", func(t *testing.T) {
		fakeFFmpeg(t, "printf 'YUV4MPEG2 W2 H1 F25:1 Cmono\\nFRAME\\nab'; kill -9 $$\n")
		require.ErrorContains(t, read(time.Minute), "ffmpeg failed: signal: killed")
	})
	t.Run("it hangs at once", func(t *testing.T) {
		fakeFFmpeg(t, "exec sleep 60\n")
		require.ErrorContains(t, read(200*time.Millisecond), "ffmpeg did nothing for 200ms and was stopped")
	})
	t.Run("it hangs in the middle", func(t *testing.T) {
		fakeFFmpeg(t, "printf 'YUV4MPEG2 W2 H1 F25:1 Cmono\\nFRAME\\nabFRA'; exec sleep 60\n")
		require.ErrorContains(t, read(500*time.Millisecond), "ffmpeg did nothing for 500ms and was stopped")
	})
	t.Run("it changes its mind about the size", func(t *testing.T) {
		fakeFFmpeg(t, "printf 'YUV4MPEG2 W2 H1 F25:1 Cmono\\nFRAME\\nabFRAME\\nabcdFRAME\\nab'; exit 0\n")
		require.ErrorContains(t, read(time.Minute), "picture 3: it should start with FRAME")
	})
	t.Run("it says a size that is too large", func(t *testing.T) {
		fakeFFmpeg(t, "printf 'YUV4MPEG2 W99999 H99999 F25:1 Cmono\\nFRAME\\n'; exec cat /dev/zero\n")
		require.ErrorContains(t, read(time.Minute), "the limit is 16 million pixels")
	})
	t.Run("it prints without end", func(t *testing.T) {
		fakeFFmpeg(t, "cat /dev/zero >&2 & exec sleep 60\n")
		require.ErrorContains(t, read(500*time.Millisecond), "ffmpeg did nothing for 500ms and was stopped")
	})
	t.Run("it writes nothing", func(t *testing.T) {
		fakeFFmpeg(t, "exit 0\n")
		require.ErrorContains(t, read(time.Minute), "ffmpeg found no pictures in it")
	})
	t.Run("it is not there", func(t *testing.T) {
		t.Setenv("PATH", t.TempDir())
		require.ErrorIs(t, read(time.Minute), ErrNone)
	})
	t.Run("nobody reads on", func(t *testing.T) {
		fakeFFmpeg(t, "printf 'YUV4MPEG2 W2 H1 F25:1 Cmono\\n'; exec cat /dev/zero\n")
		_, closer, err := open(context.Background(), "lamp.mp4", nil, time.Minute)
		require.NoError(t, err)
		require.NoError(t, closer.Close())
	})
}

// A video that ffmpeg itself made from its own test source: none of it is ours. The test
// is skipped if ffmpeg is not installed, except in CI.
func TestFFmpegReads(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil && os.Getenv("CI") == "" {
		t.Skip("ffmpeg is not installed")
	}
	path := filepath.Join(t.TempDir(), "-test: 1.mkv")
	// 2 s of 64 x 48, black, with white from 0.5 to 1 s.
	out, err := exec.Command("ffmpeg", "-loglevel", "error", "-f", "lavfi", "-i",
		"color=black:size=64x48:rate=20:duration=2",
		"-vf", "drawbox=color=white:thickness=fill:enable='between(t,0.5,0.99)'", "-c:v", "ffv1", "file:"+
			path).CombinedOutput()
	require.NoError(t, err, "%s", out)
	m, closer, err := Open(context.Background(), path, nil)
	require.NoError(t, err)
	defer closer.Close()
	all, err := pictures(m)
	require.NoError(t, err)
	require.Len(t, all, 40)
	for i, p := range all {
		want := 0.0
		if i >= 10 && i < 20 {
			want = 255
		}
		assert.InDelta(t, want, float64(p.Gray[20*64+30]), 2, "picture %d", i)
		assert.Equal(t, time.Duration(i)*50*time.Millisecond, p.At)
	}
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	m, closer, err = Open(context.Background(), "", file)
	require.NoError(t, err)
	defer closer.Close()
	all, err = pictures(m)
	require.NoError(t, err)
	assert.Len(t, all, 40)
	_, _, err = Open(context.Background(), filepath.Join(t.TempDir(), "none.mp4"), nil)
	var e *fault.Error
	require.True(t, errors.As(err, &e))
	assert.Contains(t, fmt.Sprint(err), "No such file")
}

// An H.264 clip that ffmpeg made from its own test pictures, some of which move, held by
// a shaking hand: nothing in it comes from our code, and the frame's times are written
// out from the code's specification. The test is skipped if ffmpeg is not installed,
// except in CI.
func TestClipMadeByFFmpeg(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil && os.Getenv("CI") == "" {
		t.Skip("ffmpeg is not installed")
	}
	// 116 digital, _.. . _. _.. at 200 ms: long 600 ms, short 200 ms, 200 ms between
	// marks, 800 ms between groups, 2400 ms after the frame, 8.8 s in all.
	var pulses []string
	for _, p := range [][2]float64{{0, 0.6}, {0.8, 1}, {1.2, 1.4}, {2.2, 2.4}, {3.2, 3.8}, {4, 4.2}, {5, 5.6},
		{5.8, 6}, {6.2, 6.4}} {
		pulses = append(pulses, fmt.Sprintf("between(mod(t,8.8),%g,%g)", p[0], p[1]-0.001))
	}
	for _, background := range []string{"smptebars", "testsrc2"} {
		t.Run(background, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "lamp.mp4")
			out, err := exec.Command("ffmpeg", "-loglevel", "error", "-f", "lavfi", "-i",
				background+"=size=640x480:rate=30", "-t", "26", "-vf",
				"drawbox=x=420:y=300:w=17:h=17:color=0x181818:t=fill,drawbox=x=422:y=302:w=13:h=13:color=white:t=fill:enable='"+
					strings.Join(pulses,
						"+")+"',noise=alls=14:allf=t,crop=600:440:'20+6*sin(t*7.1)+4*sin(t*17)':'20+5*sin(t*5.3)'",
				"-c:v", "libx264", "-crf", "27", "-pix_fmt", "yuv420p", path).CombinedOutput()
			require.NoError(t, err, "%s", out)
			m, closer, err := Open(context.Background(), path, nil)
			require.NoError(t, err)
			defer closer.Close()
			clip, err := capture.ReadClip(context.Background(), m,
				reading.NewTimedReader(blink.Tally, reading.AssumedDurations, nil), nil)
			require.NoError(t, err)
			require.NotEmpty(t, clip.Lamps)
			l := clip.Lamps[0]
			assert.Equal(t, blink.Signal{State: blink.Locked,
				Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}, l.Best().Signal)
			assert.False(t, l.Doubtful())
			assert.InDelta(t, 428.5-20, l.X, 8)
			assert.InDelta(t, 308.5-20, l.Y, 8)
			assert.InDelta(t, 0.2, l.Unit.Seconds(), 0.005)
		})
	}
}

// A playlist or a script that names another file is refused by the true ffmpeg, also one
// that does not look like text and has the ending of a video. The test is skipped if
// ffmpeg is not installed, except in CI.
func TestNoOtherFileIsOpened(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil && os.Getenv("CI") == "" {
		t.Skip("ffmpeg is not installed")
	}
	dir := t.TempDir()
	secret := filepath.Join(dir, "secret.ts")
	out, err := exec.Command("ffmpeg", "-loglevel", "error", "-f", "lavfi", "-i",
		"color=black:size=64x48:rate=20:duration=1", "-c:v", "mpeg2video", "file:"+secret).CombinedOutput()
	require.NoError(t, err, "%s", out)
	for name, text := range map[string]string{
		"hls.mp4":     "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\x01\nsecret.ts\n#EXT-X-ENDLIST\n",
		"concat.mkv":  "ffconcat version 1.0\nfile secret.ts\n# \x01\n",
		"playlist.ts": "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nfile:" + secret + "\n#EXT-X-ENDLIST\n",
	} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		_, _, err := Open(context.Background(), path, nil)
		var e *fault.Error
		require.True(t, errors.As(err, &e), "%s: %v", name, err)
		assert.Contains(t, err.Error(), "ffmpeg failed: ", name)
	}
	m, closer, err := Open(context.Background(), secret, nil)
	require.NoError(t, err)
	defer closer.Close()
	all, err := pictures(m)
	require.NoError(t, err)
	assert.Len(t, all, 20, "the file itself is read")
}
