// Package ffmpeg reads movies of any kind through the program ffmpeg, where that is
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

// ErrNone is what [Open] returns where the program ffmpeg is not
// installed.
var ErrNone = errors.New("ffmpeg is not installed")

// Stalled is how long ffmpeg may take for one picture before it is ended.
const Stalled = 30 * time.Second

// Open reads a movie of any kind through ffmpeg, which must be on the
// PATH. It is read from in, or where in is nil from the file path. Pictures
// larger than 1920 x 1080 are scaled down to it; a variable rate becomes a
// constant one, by the movie's own times. The error is [ErrNone] or an
// [*fault.Error]. Close ends ffmpeg, where it still runs.
//
// ffmpeg may take a time of [Stalled] for a picture; then it is ended and the
// error says so.
func Open(ctx context.Context, path string, in io.Reader) (movie.Movie, io.Closer, error) {
	return open(ctx, path, in, Stalled)
}

func open(ctx context.Context, path string, in io.Reader, stalled time.Duration) (movie.Movie, io.Closer, error) {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil, nil, ErrNone
	}
	input := "file:" + path // a name is never taken for a network address
	if in != nil {
		input = "pipe:0"
	}
	ctx, cancel := context.WithCancel(ctx)
	cmd := exec.CommandContext(ctx, program, "-hide_banner", "-loglevel", "error", "-nostdin",
		"-protocol_whitelist", "file,pipe", "-i", input, "-map", "0:v:0",
		"-vf", "scale=w='min(1920,iw)':h='min(1080,ih)':force_original_aspect_ratio=decrease:in_range=auto:out_range=pc,format=gray",
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
		return nil, nil, &fault.Error{Text: "ffmpeg can't be started: " + err.Error(), Hint: "check that 'ffmpeg -version' works here"}
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

// watchedReader reads what ffmpeg writes, and sees that it goes on.
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

// Read reads on. Where ffmpeg has failed, the error is an [*fault.Error] in place
// of io.EOF.
func (w *watchedReader) Read(b []byte) (int, error) {
	w.timer.Reset(w.stalled) // what we do between reads is not ffmpeg's time
	n, err := w.in.Read(b)
	w.timer.Stop()
	if err == nil {
		return n, nil
	}
	failed := w.wait()
	if w.isHung {
		return n, &fault.Error{Text: fmt.Sprintf("ffmpeg did nothing for %v and was stopped", w.stalled), Hint: "try the video with ffmpeg alone, or copy it again"}
	}
	if failed != nil {
		if w.complaint.has("matches no streams") {
			return n, &fault.Error{Text: "there is no picture in it", Hint: "is this a video?"}
		}
		return n, &fault.Error{Text: "ffmpeg failed: " + w.complaint.last(failed), Hint: "is this a video? Try it with ffmpeg alone, or copy it again"}
	}
	return n, err
}

// wait waits for the end of ffmpeg.
func (w *watchedReader) wait() error {
	w.ended.Do(func() {
		w.result = w.cmd.Wait()
		w.timer.Stop()
		w.hung.Do(func() {}) // from now on it is not
		w.cancel()
	})
	return w.result
}

// Close ends ffmpeg.
func (w *watchedReader) Close() error {
	w.cancel()
	w.wait() // it was ended by force: that it failed is no news
	return nil
}

// tail keeps the end of what a program complains of.
type tail struct{ text bytes.Buffer }

const maxComplaint = 4 << 10

func (t *tail) Write(b []byte) (int, error) {
	t.text.Write(b)
	if over := t.text.Len() - maxComplaint; over > 0 {
		t.text.Next(over)
	}
	return len(b), nil
}

// has reports whether a program complained of something.
func (t *tail) has(words string) bool { return strings.Contains(t.text.String(), words) }

// last returns the last line, or what the system says where there is none.
func (t *tail) last(err error) string {
	lines := strings.Split(strings.TrimSpace(t.text.String()), "\n")
	if line := lines[len(lines)-1]; line != "" {
		return line
	}
	return err.Error()
}
