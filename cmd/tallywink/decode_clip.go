package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
)

// place is a place in a picture, in pixels from its upper left.
type place struct{ x, y float64 }

func parsePlace(text string) (place, error) {
	left, right, ok := strings.Cut(text, ",")
	x, errX := table.ParseNumber(strings.TrimSpace(left))
	y, errY := table.ParseNumber(strings.TrimSpace(right))
	if !ok || errX != nil || errY != nil || !(x >= 0 && y >= 0) {
		return place{}, misuse("write it as the answer gives it, such as --at 120,84", "--at can't be %q", text)
	}
	return place{x, y}, nil
}

// fromClip answers moving pictures.
func (d *decoding) fromClip(out *console.Console, sys system) (int, error) {
	var at *place
	if d.at != "" {
		p, err := parsePlace(d.at)
		if err != nil {
			return 0, err
		}
		at = &p
	}
	in, err := openInput(out, d.clip, "name a clip: GIF, Y4M, or what ffmpeg reads")
	if err != nil {
		return 0, err
	}
	defer in.Close()
	progressBar := console.NewBar(out, "reading the clip", in)
	pictures, rest, err := movie.Read(in)
	if errors.Is(err, movie.ErrFormat) {
		if d.clip != "-" {
			rest = nil // ffmpeg reads the file itself, and may go back in it
		}
		var ffmpeg io.Closer
		if pictures, ffmpeg, err = movie.Convert(context.Background(), d.clip, rest); err == nil {
			defer ffmpeg.Close()
		}
		progressBar.Forget()
	}
	if err != nil {
		return 0, clipFailed(d.clip, err)
	}
	clip, err := capture.ReadClip(context.Background(), pictures, sys.timedReader(), func(at time.Duration) {
		progressBar.Show(fmt.Sprintf("%.0f s", at.Seconds()))
	})
	progressBar.Clear()
	if err != nil {
		return 0, clipFailed(d.clip, err)
	}
	if clip.Broken != nil {
		out.Remark("tallywink decode: %s: %s; what came before was read", console.Shown(nameOfInput(d.clip)), console.Shown(clip.Broken.Fault()))
	}
	if at != nil && (at.x > float64(clip.Width) || at.y > float64(clip.Height)) {
		return 0, misuse(fmt.Sprintf("the pictures are %d x %d", clip.Width, clip.Height), "--at %s lies outside them", d.at)
	}
	return d.tellAndNote(out, timedAnswer(sys, clipRecording(clip, at)), d.amps, d.json)
}

// clipFailed makes an error of a clip one that names the file.
func clipFailed(path string, err error) error {
	if errors.Is(err, movie.ErrNoFFmpeg) {
		return &fault.Error{File: nameOfInput(path), Text: "this is neither GIF nor Y4M, and ffmpeg, which reads all others, is not installed",
			Hint: "install ffmpeg, or save the clip as GIF or Y4M"}
	}
	return fault.In(nameOfInput(path), err, "copy the file afresh")
}

// clipRecording puts together what a clip's lamps come to. Of several lamps
// the answer is of the one nearest to at, else of the surest.
func clipRecording(clip *capture.Clip, at *place) *recording {
	r := &recording{samples: clip.Pictures, length: clip.Length, clip: clip, exact: !clip.Even}
	lamps := clip.Lamps
	switch {
	case len(lamps) == 0 && clip.Stranger != nil:
		r.lamp, r.noLamp = clip.Stranger, true
		r.TimedResult, r.unsteady = r.lamp.TimedResult, r.lamp.Unsteady
	case len(lamps) == 0:
		r.still = true
		r.Candidates = unchanging()
	default:
		r.lamp = &lamps[0]
		for i := range lamps {
			if at != nil && distance(lamps[i], *at) < distance(*r.lamp, *at) {
				r.lamp = &lamps[i]
			}
		}
		r.TimedResult, r.unsteady = r.lamp.TimedResult, r.lamp.Unsteady
		for i := range lamps {
			r.several = r.several || at == nil && lamps[i].Best().Signal != r.lamp.Best().Signal
		}
	}
	return r
}

func distance(l capture.Lamp, p place) float64 { return math.Hypot(l.X-p.x, l.Y-p.y) }

// whereText says where in the picture a lamp is: '212,96 (upper right)'.
func whereText(clip *capture.Clip, l *capture.Lamp) string {
	third := func(at float64, size int, low, high string) string {
		switch {
		case at < float64(size)/3:
			return low
		case at > float64(size)*2/3:
			return high
		}
		return ""
	}
	words := strings.TrimSpace(third(l.Y, clip.Height, "upper", "lower") + " " + third(l.X, clip.Width, "left", "right"))
	if words == "" {
		words = "middle"
	}
	return fmt.Sprintf("%.0f,%.0f (%s)", l.X, l.Y, words)
}

// clipText says what was filmed, and where the lamp was found.
func (r *recording) clipText() string {
	text := fmt.Sprintf("%.1f s in %s of %d x %d", r.length.Seconds(), console.Counted(r.samples, "picture", "pictures"), r.clip.Width, r.clip.Height)
	switch {
	case r.still:
		return text + "; nothing in them blinks like a lamp"
	case len(r.clip.Lamps) == 0:
		return text + "; what blinks most clearly is at " + whereText(r.clip, r.lamp)
	case r.Unit > 0:
		text += fmt.Sprintf("; a unit is %d ms", r.Unit.Milliseconds())
	}
	size := max(int(math.Round(r.lamp.Size)), 1)
	return text + fmt.Sprintf(". Lamp at %s, %s wide", whereText(r.clip, r.lamp), console.Counted(size, "pixel", "pixels"))
}

// lampsBlock tells of each lamp in view, where there are several.
func (r *recording) lampsBlock() console.Block {
	b := console.Block{Label: "Lamps"}
	for i := range r.clip.Lamps {
		l := &r.clip.Lamps[i]
		told := signalText(l.Best().Signal)
		if l.Doubtful() {
			told = "doubtful, likeliest " + told
		}
		mark := ""
		if l == r.lamp && !r.several {
			mark = " - this answer"
		}
		b.Lines = append(b.Lines, fmt.Sprintf("%s: %s%s", whereText(r.clip, l), told, mark))
	}
	return b
}

// inView returns the places of lamps that tell different things, as --at
// takes them, where none was named.
func (r *recording) inView() []string {
	if !r.several {
		return nil
	}
	var places []string
	for _, l := range r.clip.Lamps {
		places = append(places, fmt.Sprintf("%.0f,%.0f", l.X, l.Y))
	}
	return places
}

// lampDoc is a lamp in view: what it tells, and where it is.
type lampDoc struct {
	segmentDoc
	X        float64 `json:"x"` // pixels of the first picture, from its left
	Y        float64 `json:"y"` // and from its top
	Size     float64 `json:"size"`
	Doubtful bool    `json:"doubtful"`
}

func (r *recording) lampDocs() []lampDoc {
	if r.clip == nil {
		return nil
	}
	docs := []lampDoc{}
	for _, l := range r.clip.Lamps {
		told := segmentDocs(l.Sequence)
		last := told[len(told)-1]
		docs = append(docs, lampDoc{last, tenths(l.X), tenths(l.Y), tenths(l.Size), l.Doubtful()})
	}
	return docs
}
