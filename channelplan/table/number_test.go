package table_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/table"
)

func ExampleParseNumber() {
	fmt.Println(table.ParseNumber("34.5"))
	fmt.Println(table.ParseNumber("3_4"))
	// Output:
	// 34.5 <nil>
	// 0 not a number
}

func TestParseNumber(t *testing.T) {
	for text, want := range map[string]float64{"34.5": 34.5, "-3": -3, "+0.5": 0.5, "1.2e-3": 0.0012, "007": 7,
		".5": 0.5, "5.": 5, "1E2": 100} {
		x, err := table.ParseNumber(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, x, text)
	}
	for _, text := range []string{"", " 1", "1 ", "0x1p5", "1_000", "3_7.6", "NaN", "inf", "+Inf", "1,5", "1e", "--1",
		"1e999", "٣", "1.2.3", "e"} {
		_, err := table.ParseNumber(text)
		require.ErrorIs(t, err, table.ErrNumber, text)
	}
}
