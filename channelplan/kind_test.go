package channelplan_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
)

func TestParsePilotTakesEveryQAMAsDigital(t *testing.T) {
	for _, word := range []string{"digital", "qam", "QAM64", "256qam", "qam-256"} {
		k, err := channelplan.ParsePilotKind(word)
		if word == "256qam" {
			require.ErrorIs(t, err, channelplan.ErrCarrier)
			continue
		}
		require.NoError(t, err, word)
		assert.Equal(t, channelplan.Digital, k, word)
	}
}

func TestParseSuggests(t *testing.T) {
	_, err := channelplan.ParsePilotKind("anolog")
	require.ErrorIs(t, err, channelplan.ErrCarrier)
	assert.Contains(t, err.Error(), "did you mean analog?")

	_, err = channelplan.ParseListedKind("qam265")
	require.ErrorIs(t, err, channelplan.ErrCarrier)
	assert.Contains(t, err.Error(), "did you mean qam256?")

	_, err = channelplan.ParseListedKind("digital")
	require.ErrorIs(t, err, channelplan.ErrCarrier, "a lineup must say which QAM")
}

func TestWordsParseBack(t *testing.T) {
	for _, k := range []channelplan.Kind{channelplan.Analog, channelplan.QAM64, channelplan.QAM256, channelplan.CW,
		channelplan.OFDM} {
		got, err := channelplan.ParseListedKind(k.String())
		require.NoError(t, err)
		assert.Equal(t, k, got)
	}
	for _, k := range channelplan.PilotKinds() {
		got, err := channelplan.ParsePilotKind(k.String())
		require.NoError(t, err)
		assert.Equal(t, k, got)
		assert.Equal(t, k, k.Family(), "a pilot's kind is its own family")
	}
	for k, label := range map[channelplan.Kind]string{channelplan.Analog: "analog",
		channelplan.Digital: "digital (QAM)", channelplan.CW: "continuous wave",
		channelplan.QAM64: "64-QAM", channelplan.QAM256: "256-QAM", channelplan.OFDM: "OFDM"} {
		assert.Equal(t, label, k.Label())
	}
	assert.Equal(t, "none", channelplan.Kind(200).String())
	assert.Equal(t, "no carrier", channelplan.Kind(200).Label())
}
