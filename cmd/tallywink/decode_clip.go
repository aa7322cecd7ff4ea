package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/ffmpeg"
	"tallywink.example/cmd/tallywink/input"
)

// parsePlace reads a place as --at gives it.
func parsePlace(text string) (answer.Place, error) {
	left, right, ok := strings.Cut(text, ",")
	x, errX := table.ParseNumber(strings.TrimSpace(left))
	y, errY := table.ParseNumber(strings.TrimSpace(right))
	if !ok || errX != nil || errY != nil || !(x >= 0 && y >= 0) {
		return answer.Place{}, misuse("copy it from the answer, such as --at 120,84", "--at can't be %q", text)
	}
	return answer.Place{X: x, Y: y}, nil
}

// fromClip answers a video.
func (d *decoding) fromClip(out *console.Console, sys input.Asked) (int, error) {
	var at *answer.Place
	if d.at != "" {
		p, err := parsePlace(d.at)
		if err != nil {
			return 0, err
		}
		at = &p
	}
	in, err := input.Open(out, d.clip, "name a clip: GIF, Y4M, or what ffmpeg reads")
	if err != nil {
		return 0, err
	}
	defer in.Close()
	progressBar := console.NewBar(out, "reading the clip", in)
	pictures, rest, err := movie.Read(in)
	if errors.Is(err, movie.ErrFormat) {
		if d.clip != "-" {
			rest = nil // ffmpeg reads the file itself, and may seek back in it
		}
		var closer io.Closer
		if pictures, closer, err = ffmpeg.Open(context.Background(), d.clip, rest); err == nil {
			defer closer.Close()
		}
		progressBar.Forget()
	}
	if err != nil {
		return 0, clipFailed(d.clip, err)
	}
	clip, err := capture.ReadClip(context.Background(), pictures, sys.TimedReader(), func(at time.Duration) {
		progressBar.Show(fmt.Sprintf("%.0f s", at.Seconds()))
	})
	progressBar.Clear()
	if err != nil {
		return 0, clipFailed(d.clip, err)
	}
	if clip.Broken != nil {
		out.Remark("tallywink decode: %s: %s; everything before that was read", console.Shown(input.NameOf(d.clip)),
			console.Shown(clip.Broken.Fault()))
	}
	if at != nil && (at.X > float64(clip.Width) || at.Y > float64(clip.Height)) {
		return 0, misuse(fmt.Sprintf("the pictures are %d x %d", clip.Width, clip.Height),
			"--at %s is outside the picture", d.at)
	}
	return d.tellAndNote(out, answer.OfRecording(sys.System, answer.OfClip(clip, at)), sys, d.Amps, d.json)
}

// clipFailed adds the file's name to an error about a clip.
func clipFailed(path string, err error) error {
	if errors.Is(err, ffmpeg.ErrNone) {
		return &fault.Error{File: input.NameOf(path),
			Text: "this is not GIF or Y4M, and ffmpeg, which reads all others, is not installed",
			Hint: "install ffmpeg, or save the clip as GIF or Y4M"}
	}
	return fault.In(input.NameOf(path), err, "copy the file again")
}
