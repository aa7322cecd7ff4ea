package progress

import "strings"

// ItemText returns an item in words, for people: 'field pilot digital+100' is 'in the
// field, pilot: digital, channel 100 or more'. Items that it does not know stay as they
// are.
func ItemText(item string) string {
	what, of, ok := strings.Cut(item, " ")
	if !ok {
		return strings.Replace(item, "+100", ", channel 100 or more", 1)
	}
	of = strings.Replace(of, "+100", ", channel 100 or more", 1)
	switch what {
	case "field":
		return "in the field, " + ItemText(strings.TrimPrefix(item, "field "))
	case "head", "pilot", "sending":
		return what + ": " + of
	case "state":
		if state, end, isEdge := strings.Cut(of, "-"); isEdge {
			of = state + ", " + end + " end"
		}
		return what + ": " + of
	case "check":
		return "check digit that " + of
	case "verdict":
		return "verdict: " + map[string]string{"usable": "usable", "caution": "usable with caution",
			"unusable": "not usable"}[of]
	case "doubt":
		return "in doubt: " + map[string]string{"differs": "one look that does not agree",
			"looks": "two looks that disagree", "long": "too many groups", "third": "for the third time"}[of]
	case "action":
		return "first step: " + of
	case "decision": // in older books
		return "who decides: " + of
	}
	return item
}
