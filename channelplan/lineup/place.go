package lineup

import "tallywink.example/channelplan"

// Located is where a plan or a lineup puts a pilot.
type Located struct {
	FrequencyHz int64 // visual carrier of analog, center of digital, carrier of cw
	Band              // the channel's edges; those of a cw carrier without a channel are equal
}

// Locate returns where the plan puts a pilot, and whether the plan has its channel.
func Locate(p channelplan.Pilot, plan channelplan.Plan) (Located, bool) {
	if p.Channel == 0 {
		return Located{p.FrequencyHz, Band{p.FrequencyHz, p.FrequencyHz}}, true
	}
	c, ok := plan.Channel(p.Channel)
	if !ok {
		return Located{}, false
	}
	return Located{planFrequency(p.Kind, c), Band{c.LowHz(), c.HighHz()}}, true
}
