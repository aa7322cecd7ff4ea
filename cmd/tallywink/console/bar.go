package console

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// Bar is a progress bar on standard error while a long file is read, if standard error is
// a terminal.
type Bar struct {
	err   io.Writer
	what  string // what is being done: 'reading the clip'
	file  placed // its read position shows the progress; nil if unknown
	size  int64
	begun time.Time
	last  time.Time
	shown bool
}

// placed is a file that has a size and a read position.
type placed interface {
	io.Seeker
	Stat() (os.FileInfo, error)
}

// NewBar makes a bar for reading from in; nil if no bar is to be shown.
func NewBar(out *Console, what string, in io.Reader) *Bar {
	f, ok := out.Err.(*os.File)
	if !ok || !IsTerminal(f) {
		return nil
	}
	p := &Bar{err: f, what: what, begun: time.Now()}
	if file, ok := in.(placed); ok {
		if info, err := file.Stat(); err == nil && info.Mode().IsRegular() {
			p.file, p.size = file, info.Size()
		}
	}
	return p
}

// Forget drops the file, for example because another program reads it.
func (p *Bar) Forget() {
	if p != nil {
		p.file = nil
	}
}

// A bar is shown if reading takes longer than patience, and is redrawn at most once every
// redraw.
const (
	patience = 500 * time.Millisecond
	redraw   = 200 * time.Millisecond
	barWidth = 24
)

// Show draws the bar; far says in words how far the work has come.
func (p *Bar) Show(far string) {
	if p == nil {
		return
	}
	now := time.Now()
	if now.Sub(p.begun) < patience || now.Sub(p.last) < redraw {
		return
	}
	p.last, p.shown = now, true
	fmt.Fprint(p.err, EraseLine+p.text(far))
}

func (p *Bar) text(far string) string {
	text := p.what + ": " + far
	if p.file == nil {
		return text
	}
	place, err := p.file.Seek(0, io.SeekCurrent)
	if err != nil || p.size == 0 {
		return text
	}
	share := min(float64(place)/float64(p.size), 1)
	full := int(share * barWidth)
	return fmt.Sprintf("%s [%s%s] %2.0f%%", text, strings.Repeat("#", full),
		strings.Repeat(".", barWidth-full), 100*share)
}

// Clear removes the bar until it is shown again.
func (p *Bar) Clear() {
	if p != nil && p.shown {
		fmt.Fprint(p.err, EraseLine)
		p.shown = false
	}
}

// BesideBar passes on an answer in whole lines, and first removes the bar if both would
// share a line.
type BesideBar struct {
	Out *Console
	*Bar
}

// Write passes lines on to the output.
func (b BesideBar) Write(lines []byte) (int, error) {
	if b.Out.Terminal {
		b.Clear()
	}
	n, err := b.Out.Out.Write(lines)
	if err == nil {
		err = b.Out.Out.Flush()
	}
	return n, err
}
