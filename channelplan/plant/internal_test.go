package plant

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// Rows that share their settings with others are read as if they were alone.
func TestRowsAlike(t *testing.T) {
	text := "amp,node,channel,carrier\n"
	for i := range 3 * maxKnown {
		text += fmt.Sprintf("A%d,N%d,%d,analog\n", i, i%7, 1+i%199)
	}
	p, err := Read(strings.NewReader(text), "amps.csv")
	require.NoError(t, err)
	require.Empty(t, p.Problems)
	require.Len(t, p.Amplifiers, 3*maxKnown)
	for i, a := range p.Amplifiers {
		require.Equal(t, lineup.Amplifier{Line: i + 2, ID: fmt.Sprintf("A%d", i), Node: fmt.Sprintf("N%d", i%7),
			Pilot: channelplan.Pilot{Channel: 1 + i%199, Kind: channelplan.Analog}}, a.Amplifier)
	}
}
