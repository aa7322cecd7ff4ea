// Package ffmpeg reads video of any kind through the program ffmpeg, if that is
// installed, as a [movie.Movie].
package ffmpeg

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"time"

	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan/fault"
)

// ErrNone is the error of [Open] if the program ffmpeg is not installed.
var ErrNone = errors.New("ffmpeg is not installed")

// formats are the containers that ffmpeg may read: those that have their pictures in
// them. Playlists, scripts and image sequences name other files, and are refused whatever
// the name of the file ends in.
const formats = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,mpegvideo,flv,ogg,asf,gif,apng,yuv4mpegpipe,h264,hevc,m4v,ivf,nut,dv,mxf"

// stalledAfter is how long ffmpeg may take for one picture before it is stopped.
const stalledAfter = 30 * time.Second

// Open reads video of any kind through ffmpeg, which must be on the PATH. It reads from
// in or, if in is nil, from the file path. Pictures larger than 1920 x 1080 are scaled
// down to that; a variable frame rate becomes a constant one, according to the video's
// own times. The error is [ErrNone] or a [*fault.Error]. Close stops ffmpeg if it is
// still running.
//
// If ffmpeg takes longer than half a minute for a picture, it is stopped, and the error says
// so.
func Open(ctx context.Context, path string, in io.Reader) (movie.Movie, io.Closer, error) {
	return open(ctx, path, in, stalledAfter)
}

func open(ctx context.Context, path string, in io.Reader, stalled time.Duration) (movie.Movie, io.Closer, error) {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil, nil, ErrNone
	}
	input := "file:" + path // so that a name is never taken for a network address
	if in != nil {
		input = "pipe:0"
	}
	ctx, cancel := context.WithCancel(ctx)
	cmd := exec.CommandContext(ctx, program, "-hide_banner", "-loglevel", "error", "-nostdin",
		"-protocol_whitelist", "file,pipe", "-format_whitelist", formats, "-i", input, "-map", "0:v:0",
		"-vf",
		"scale=w='min(1920,iw)':h='min(1080,ih)':force_original_aspect_ratio=decrease:in_range=auto:out_range=pc,format=yuv420p",
		"-f", "yuv4mpegpipe", "-strict", "-1", "pipe:1")
	cmd.Stdin = in
	cmd.WaitDelay = time.Second
	complaint := &tail{}
	cmd.Stderr = complaint
	pipe, err := cmd.StdoutPipe()
	if err != nil {
		cancel()
		return nil, nil, err
	}
	if err := cmd.Start(); err != nil {
		cancel()
		return nil, nil, &fault.Error{Text: "ffmpeg can't be started: " + err.Error(),
			Hint: "check that 'ffmpeg -version' works here"}
	}
	w := &watchedReader{in: pipe, cmd: cmd, cancel: cancel, complaint: complaint, stalled: stalled}
	w.timer = time.AfterFunc(stalled, func() {
		w.hung.Do(func() { w.isHung = true })
		cancel()
	})
	w.timer.Stop()
	reader := bufio.NewReaderSize(w, 1<<20)
	if _, err := reader.Peek(1); err != nil {
		w.Close()
		if err == io.EOF {
			err = &fault.Error{Text: "ffmpeg found no pictures in it", Hint: "is this a video?"}
		}
		return nil, nil, err
	}
	m, _, err := movie.Read(reader)
	if err != nil {
		w.Close()
		return nil, nil, err
	}
	return m, w, nil
}

// watchedReader reads what ffmpeg writes, and stops it if it hangs.
type watchedReader struct {
	in        io.Reader
	cmd       *exec.Cmd
	cancel    context.CancelFunc
	complaint *tail
	stalled   time.Duration
	timer     *time.Timer
	hung      sync.Once
	isHung    bool
	ended     sync.Once
	result    error
}

// Read implements [io.Reader]. If ffmpeg has failed, the error is a [*fault.Error]
// instead of io.EOF.
func (w *watchedReader) Read(b []byte) (int, error) {
	w.timer.Reset(w.stalled) // the time between reads does not count for ffmpeg
	n, err := w.in.Read(b)
	w.timer.Stop()
	if err == nil {
		return n, nil
	}
	failed := w.wait()
	if w.isHung {
		return n, &fault.Error{Text: fmt.Sprintf("ffmpeg did nothing for %v and was stopped", w.stalled),
			Hint: "try the video with ffmpeg alone, or copy it again"}
	}
	if failed != nil {
		if w.complaint.has("matches no streams") {
			return n, &fault.Error{Text: "there is no picture in it", Hint: "is this a video?"}
		}
		return n, &fault.Error{Text: "ffmpeg failed: " + w.complaint.last(failed),
			Hint: "is this a video? Try it with ffmpeg alone, or copy it again"}
	}
	return n, err
}

// wait waits for ffmpeg to end.
func (w *watchedReader) wait() error {
	w.ended.Do(func() {
		w.result = w.cmd.Wait()
		w.timer.Stop()
		w.hung.Do(func() {}) // from now on it can't hang
		w.cancel()
	})
	return w.result
}

// Close stops ffmpeg.
func (w *watchedReader) Close() error {
	w.cancel()
	w.wait() // it was stopped by force: its failure is expected
	return nil
}

// tail keeps the end of a program's error output.
type tail struct{ text bytes.Buffer }

const maxComplaint = 4 << 10

func (t *tail) Write(b []byte) (int, error) {
	t.text.Write(b)
	if over := t.text.Len() - maxComplaint; over > 0 {
		t.text.Next(over)
	}
	return len(b), nil
}

// has reports whether the error output contains some words.
func (t *tail) has(words string) bool { return strings.Contains(t.text.String(), words) }

// last returns the last line, or the system's error if there is none.
func (t *tail) last(err error) string {
	lines := strings.Split(strings.TrimSpace(t.text.String()), "\n")
	if line := lines[len(lines)-1]; line != "" {
		return line
	}
	return err.Error()
}
