package channelplan

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParsePilotTakesEveryQAMAsDigital(t *testing.T) {
	for _, word := range []string{"digital", "qam", "QAM64", "256qam", "qam-256"} {
		k, err := ParsePilotKind(word)
		if word == "256qam" {
			require.ErrorIs(t, err, ErrCarrier)
			continue
		}
		require.NoError(t, err, word)
		assert.Equal(t, Digital, k, word)
	}
}

func TestParseSuggests(t *testing.T) {
	_, err := ParsePilotKind("anolog")
	require.ErrorIs(t, err, ErrCarrier)
	assert.Contains(t, err.Error(), "did you mean analog?")

	_, err = ParseListedKind("qam265")
	require.ErrorIs(t, err, ErrCarrier)
	assert.Contains(t, err.Error(), "did you mean qam256?")

	_, err = ParseListedKind("digital")
	require.ErrorIs(t, err, ErrCarrier, "a lineup must say which QAM")
}

func TestWordsParseBack(t *testing.T) {
	for _, k := range []Kind{Analog, QAM64, QAM256, CW, OFDM} {
		got, err := ParseListedKind(k.String())
		require.NoError(t, err)
		assert.Equal(t, k, got)
	}
	for _, k := range PilotKinds() {
		got, err := ParsePilotKind(k.String())
		require.NoError(t, err)
		assert.Equal(t, k, got)
		assert.Equal(t, k, k.Family(), "a pilot's kind is its own family")
	}
	for k, label := range map[Kind]string{Analog: "analog", Digital: "digital (QAM)", CW: "continuous wave",
		QAM64: "64-QAM", QAM256: "256-QAM", OFDM: "OFDM"} {
		assert.Equal(t, label, k.Label())
	}
	assert.Equal(t, "none", Kind(200).String())
	assert.Equal(t, "no carrier", Kind(200).Label())
}
