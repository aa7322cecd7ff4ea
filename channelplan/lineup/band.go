package lineup

import (
	"tallywink.example/channelplan"
)

// Cell is one channel's width of the band, as it is drawn.
type Cell struct {
	Band
	Kind channelplan.Kind // of the carrier that fills most of it; None where nothing is carried
	// Unfit tells that the carrier is part-time or scrambled, never a pilot.
	Unfit bool
	// CW tells that a cw carrier stands in the cell, or at its lower edge,
	// beside what fills it.
	CW bool
}

// Cells divides the forward passband into cells of 6 MHz, from its lower end
// on, and says what fills each.
func (l *Lineup) Cells() []Cell {
	var cells []Cell
	for low := l.Forward.LowHz; low < l.Forward.HighHz; low += channelplan.ChannelWidthHz {
		cell := Cell{Band: Band{low, min(low+channelplan.ChannelWidthHz, l.Forward.HighHz)}}
		most := int64(0)
		for _, c := range l.Carriers {
			if c.Kind == channelplan.CW {
				if c.FrequencyHz >= cell.LowHz-shareableHz && c.FrequencyHz < cell.HighHz-shareableHz {
					cell.CW = true
				}
				continue
			}
			filled := min(c.HighHz, cell.HighHz) - max(c.LowHz, cell.LowHz)
			if filled > most && 2*filled >= cell.HighHz-cell.LowHz {
				most = filled
				cell.Kind, cell.Unfit = c.Kind, c.PartTime || c.SyncSuppressed
			}
		}
		if cell.CW && cell.Kind == channelplan.NoCarrier {
			cell.Kind, cell.CW = channelplan.CW, false
		}
		cells = append(cells, cell)
	}
	return cells
}
