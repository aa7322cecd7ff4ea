package main

import (
	"math"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/table"
)

// This file holds the parts that JSON documents share. Their names are a
// contract: other programs read them. Adding to them is fine.

const schema = 1

// pilotDoc is a pilot with its place in the plan. Frequencies are null where
// the plan has no such channel.
type pilotDoc struct {
	Channel     *int   `json:"channel"` // null for a cw carrier without a channel
	Carrier     string `json:"carrier"`
	Plan        string `json:"plan"`
	FrequencyHz *int64 `json:"frequency_hz"` // visual carrier of analog, center of digital, the carrier of cw
	LowHz       *int64 `json:"low_hz"`
	HighHz      *int64 `json:"high_hz"`
}

// newPilotDoc takes the frequency from where the lineup has the carrier, else
// from the plan, and the edges from the plan.
func newPilotDoc(r *lineup.Report, plan channelplan.Plan) *pilotDoc {
	d := &pilotDoc{Carrier: r.Pilot.Kind.String(), Plan: plan.String()}
	if r.Pilot.Channel != 0 {
		d.Channel = &r.Pilot.Channel
	}
	if at, ok := lineup.Locate(r.Pilot, plan); ok {
		d.FrequencyHz, d.LowHz, d.HighHz = &r.Located.FrequencyHz, &at.LowHz, &at.HighHz
	}
	return d
}

// codedPilotDoc is a pilot as the code names it, whatever the plan.
type codedPilotDoc struct {
	Channel int    `json:"channel"`
	Carrier string `json:"carrier"`
}

type findingDoc struct {
	Rule     string `json:"rule"`
	Severity string `json:"severity"`
	Text     string `json:"text"`
	Source   string `json:"source"`
}

func findingDocs(findings []lineup.Finding) []findingDoc {
	docs := make([]findingDoc, len(findings))
	for i, f := range findings {
		docs[i] = findingDoc{string(f.Rule), f.Severity.String(), f.Text, f.Source}
	}
	return docs
}

type verdictDoc struct {
	Verdict  string       `json:"verdict"`
	Findings []findingDoc `json:"findings"`
}

func newVerdictDoc(r *lineup.Report) *verdictDoc {
	if r == nil {
		return nil
	}
	return &verdictDoc{r.Verdict.String(), findingDocs(r.Findings)}
}

type candidateDoc struct {
	State       string  `json:"state"`
	Channel     *int    `json:"channel"`
	Carrier     *string `json:"carrier"`
	EdgeEnd     *string `json:"edge_end,omitempty"` // where it was observed in time
	Probability float64 `json:"probability"`
}

// edgeEndDoc is the end of the range, null where there is none.
func edgeEndDoc(end blink.EdgeEnd) *string {
	if end == blink.NoEnd {
		return nil
	}
	word := end.String()
	return &word
}

// A document holds so many candidates at most, each at least so probable, and
// always the best.
const (
	maxCandidates  = 10
	leastCandidate = 0.001
)

// worthListing tells whether the i-th candidate belongs in a document.
func worthListing(i int, probability float64) bool {
	return i == 0 || i < maxCandidates && probability >= leastCandidate
}

func newCandidateDoc(state blink.State, p channelplan.Pilot, probability float64) candidateDoc {
	kind := p.Kind.String()
	return candidateDoc{State: state.String(), Channel: &p.Channel, Carrier: &kind, Probability: rounded(probability)}
}

// tenths keeps one decimal.
func tenths(x float64) float64 { return math.Round(10*x) / 10 }

// hundredths keeps two decimals.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }

// rounded keeps six decimals of a probability.
func rounded(p float64) float64 { return math.Round(p*1e6) / 1e6 }

type problemDoc struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

func problemDocs(problems []table.Problem) []problemDoc {
	docs := make([]problemDoc, len(problems))
	for i, p := range problems {
		docs[i] = problemDoc(p)
	}
	return docs
}
