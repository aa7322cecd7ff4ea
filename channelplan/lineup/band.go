package lineup

import (
	"tallywink.example/channelplan"
)

// Cell is a piece of the band one channel wide, as it is drawn.
type Cell struct {
	Band
	Kind channelplan.Kind // of the carrier that fills at least half of it; NoCarrier if there is none
	// Unfit reports that the carrier is part-time or scrambled, so never a pilot.
	Unfit bool
	// CW reports that a cw carrier is in the cell, or at its lower edge, in addition to
	// the carrier that fills the cell.
	CW bool
}

// Cells divides the forward passband into 6 MHz cells, starting at its lower end, and
// says what fills each.
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
