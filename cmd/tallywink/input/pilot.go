package input

import (
	"fmt"
	"strings"

	"tallywink.example/channelplan"
)

// PilotArgs reads CHANNEL CARRIER, or 'cw' together with a frequency; the example is
// shown if anything else is given.
func PilotArgs(args []string, mhz, example string) (channelplan.Pilot, error) {
	args = strings.FieldsFunc(strings.Join(args, " "), func(r rune) bool { return r == ' ' || r == ',' })
	if len(args) == 1 && mhz == "" {
		args = splitPilot(args[0])
	}
	if mhz != "" {
		if len(args) != 1 {
			return channelplan.Pilot{}, Misuse("for instance: tallywink check --mhz 138.0125 cw --lineup demo",
				"with --mhz the only argument is the carrier, cw")
		}
		kind, err := channelplan.ParsePilotKind(args[0])
		if err != nil {
			return channelplan.Pilot{}, err
		}
		if kind != channelplan.CW {
			return channelplan.Pilot{}, Misuse("give its channel instead; 'tallywink plan --near "+mhz+"' finds it",
				"--mhz is for cw carriers, but this is %v", kind)
		}
		hz, err := ParseMHz(mhz)
		return channelplan.Pilot{Kind: kind, FrequencyHz: hz}, err
	}
	if len(args) == 1 && len(args[0]) > 3 && IsDigits(args[0]) {
		return channelplan.Pilot{},
			Misuse(fmt.Sprintf("if they are the digits of a frame, 'tallywink decode %s' reads them", args[0]),
				"there is no channel %s", args[0])
	}
	if len(args) == 1 && strings.Trim(args[0], "0123456789") == "" {
		return channelplan.Pilot{}, Misuse("for instance "+args[0]+" digital; the others are analog and cw",
			"give the carrier of channel %s, too", args[0])
	}
	if len(args) != 2 {
		return channelplan.Pilot{}, Misuse(example, "give a channel and a carrier")
	}
	// 'digital 116' is as clear as '116 digital'.
	if strings.Trim(args[1], "0123456789") == "" {
		args[0], args[1] = args[1], args[0]
	}
	channel, err := channelplan.ParseChannel(args[0])
	if err != nil {
		return channelplan.Pilot{}, err
	}
	kind, err := channelplan.ParsePilotKind(wholeKind(args[1]))
	return channelplan.Pilot{Channel: channel, Kind: kind}, err
}

// splitPilot splits '116digital', 'digital116' or '116-digital', which are as clear as
// '116 digital'.
func splitPilot(text string) []string {
	const digits = "0123456789"
	if word := strings.TrimLeft(text, digits); word != text && word != "" {
		return []string{strings.TrimSuffix(text, word), strings.TrimLeft(word, "-_")}
	}
	if word := strings.TrimRight(text, digits); word != text && word != "" {
		return []string{strings.TrimPrefix(text, word), strings.TrimRight(word, "-_")}
	}
	return []string{text}
}

// IsDigits reports whether a text without spaces is digits of groups, not marks.
func IsDigits(text string) bool {
	return strings.ContainsAny(text, "0123456789") && strings.Trim(text, "0123456789?xX/") == ""
}

// wholeKind completes the beginning of a kind of carrier: d, dig.
func wholeKind(word string) string {
	for _, whole := range []string{"analog", "digital", "cw"} {
		if word != "" && strings.HasPrefix(whole, strings.ToLower(word)) {
			return whole
		}
	}
	return word
}
