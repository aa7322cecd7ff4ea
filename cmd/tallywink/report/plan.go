package report

import (
	"fmt"
	"strconv"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// ChannelDoc is the JSON document of a channel. Frequencies are in Hz.
type ChannelDoc struct {
	Channel   int              `json:"channel"`
	Plan      channelplan.Plan `json:"plan"`
	LowHz     int64            `json:"low_hz"`
	HighHz    int64            `json:"high_hz"`
	VisualHz  int64            `json:"visual_hz"`
	AuralHz   int64            `json:"aural_hz"`
	ChromaHz  int64            `json:"chroma_hz"`
	CenterHz  int64            `json:"center_hz"`
	Extension bool             `json:"extension"`
	// With --near: whether the channel holds the frequency, and how far outside it the
	// frequency is.
	Holds      *bool  `json:"holds,omitempty"`
	DistanceHz *int64 `json:"distance_hz,omitempty"`
}

// NewChannelDoc returns the JSON document of a channel.
func NewChannelDoc(c channelplan.Channel) ChannelDoc {
	return ChannelDoc{Channel: c.Number(), Plan: c.Plan(), LowHz: c.LowHz(), HighHz: c.HighHz(),
		VisualHz: c.VisualHz(),
		AuralHz:  c.AuralHz(), ChromaHz: c.ChromaHz(), CenterHz: c.CenterHz(), Extension: c.Extension()}
}

// PrintChannels lists channels with their frequencies.
func PrintChannels(out *console.Console, channels []channelplan.Channel) {
	if out.Width < console.LineWidth {
		for _, c := range channels {
			mhz := channelplan.FormatMHz
			out.Print([]console.Block{{Label: fmt.Sprintf("%d%s", c.Number(),
				wording.Either(c.Extension(), " (extension)", "")), Text: []console.Paragraph{console.Text(fmt.Sprintf(
				"%s to %s MHz, center %s, visual %s, color %s, aural %s", mhz(c.LowHz()), mhz(c.HighHz()),
				mhz(c.CenterHz()), mhz(c.VisualHz()), mhz(c.ChromaHz()), mhz(c.AuralHz())))}}}, nil)
		}
		return
	}
	out.Line("%s", out.Strong.Sprint("channel        low     visual      color      aural     center       high  MHz"))
	for _, c := range channels {
		line := fmt.Sprintf("%7s", strconv.Itoa(c.Number()))
		for _, hz := range []int64{c.LowHz(), c.VisualHz(), c.ChromaHz(), c.AuralHz(), c.CenterHz(), c.HighHz()} {
			line += fmt.Sprintf(" %10s", channelplan.FormatMHz(hz))
		}
		if c.Extension() {
			line += "  ext."
		}
		out.Line("%s", line)
	}
}
