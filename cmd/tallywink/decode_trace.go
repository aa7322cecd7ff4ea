package main

import (
	"context"
	"fmt"

	"tallywink.example/blink/capture"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// fromTrace answers a brightness trace.
func (d *decoding) fromTrace(out *console.Console, sys input.Asked) (int, error) {
	in, err := input.Open(out, d.trace, "name a CSV file of seconds,brightness")
	if err != nil {
		return 0, err
	}
	defer in.Close()
	trace, err := capture.ReadTrace(in)
	if err != nil {
		return 0, fault.In(input.NameOf(d.trace), err, "copy the file again")
	}
	if n := trace.Scraps; n > 0 {
		out.Remark("tallywink decode: %s between gaps, too many to read, the shortest left out",
			wording.Counted(n, "scrap", "scraps"))
	}
	if n := trace.Disordered; n > 0 {
		out.Remark("tallywink decode: %s: %s slightly out of order; sorted by time",
			console.Shown(input.NameOf(d.trace)), wording.Counted(n, "sample", "samples"))
	}
	bar := console.NewBar(out, "reading the light", nil)
	r, err := answer.OfTrace(context.Background(), trace, sys.TimedReader(),
		func(done, of int) { bar.Show(fmt.Sprintf("%d parts of %d", done, of)) })
	bar.Clear()
	if err != nil {
		return 0, err
	}
	return d.tellAndNote(out, answer.OfRecording(sys.System, r), sys, d.Amps, d.json)
}
