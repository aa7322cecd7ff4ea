package reading

import (
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/sheet"
)

// inventedSheets are codes as lamps have them that are unlike Tally, each invented: digits
// counted one by one, zero as ten or as no light, kinds by long marks, presets, states alone,
// fast and slow of one rhythm.
func inventedSheets(t *testing.T) map[string]*blink.Code {
	codes := map[string]*blink.Code{}
	for _, name := range []string{"heron", "tern", "plover", "dunlin"} {
		code, problems, err := sheet.Open(filepath.Join("../../testdata/sheets", name+".toml"))
		require.NoError(t, err)
		require.Empty(t, problems, name)
		codes[name] = code
	}
	return codes
}

// Whatever these lamps show is read back from its times, begun anywhere, at units from one end
// of the range to the other, and nothing is read as something else with certainty.
func TestInventedSheetsFromTheirTimes(t *testing.T) {
	for name, code := range inventedSheets(t) {
		reader := NewTimedReader(code, AssumedDurations, nil)
		random := rand.New(rand.NewPCG(7, uint64(len(name))))
		all := slices.Collect(code.Signals)
		random.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		sure := 0
		tried := all[:min(len(all), 40)]
		for _, want := range tried {
			timing := code.Timing
			unit := timing.MinUnit + time.Duration(random.Int64N(int64(timing.MaxUnit-timing.MinUnit+1))).Truncate(time.Millisecond)
			_, period, _ := code.Signal(want, unit)
			seen := observation{random: random, jitter: 0.04}.seeOf(code, want, unit, max(2.5*period.Seconds(), 20))
			result := reader.Read(seen)
			if result.Doubtful() {
				continue
			}
			sure++
			assert.Equal(t, want, result.Best().Signal, "%s at %v", name, unit)
		}
		assert.GreaterOrEqual(t, sure, len(tried)*8/10, name)
	}
}

// Marks that were counted right are read back; where a zero shows no light and nothing was
// written for it, the answer is doubtful and not wrong.
func TestInventedSheetsFromTheirMarks(t *testing.T) {
	for name, code := range inventedSheets(t) {
		reader := NewReader(code, Assumed, nil)
		for p := range code.Pilots {
			frame, err := code.Encode(p)
			require.NoError(t, err)
			digits, ok := code.DigitsOf(frame)
			require.True(t, ok, "%s %v", name, p)
			back, err := code.Pilot(digits)
			require.NoError(t, err)
			require.Equal(t, p, back, name)
			if p.Channel%7 > 0 {
				continue // reading takes time
			}
			assert.Equal(t, p, reader.Read([]blink.Frame{frame, frame}, StartSeen).Best().Pilot, name)
			if lit := frame.Lit(); len(lit) < len(frame) {
				r := reader.Read([]blink.Frame{lit}, StartSeen)
				assert.True(t, r.Doubtful() || r.Best().Pilot == p, "%s: %v as %s is %v", name, p, lit, r.Best())
			}
		}
	}
}
