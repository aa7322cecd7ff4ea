package report

import (
	"fmt"
	"strings"

	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
)

// acts says how to do on this command line what a hint or a step asks for: it ends the
// sentence.
var acts = map[fault.Act]string{
	fault.NameBook:     " with --book",
	fault.BuiltIn:      ", or use 'demo' for the built-in system",
	fault.BuiltInSheet: ", or use tally or curlew, which are built in",
	fault.GiveInput:    ", or use - for standard input",
	fault.ManyLamps:    "; --each takes many",
	fault.ReadTrace:    "; --trace reads brightness",
	fault.ShowProblems: "; 'tallywink lineup' shows what is wrong with each",
	fault.AuditRows:    "; 'tallywink audit' takes millions",
	fault.NameDay:      " with --since",
	fault.ShowSheet:    "; 'tallywink sheet tally --print' shows one",
	fault.ListChannels: "'tallywink plan' lists all channels",
	fault.PartLooks:    ", with // between them",
	fault.BeginAtHead:  ", without --no-start",
	fault.TellState:    " (--state)",
	fault.GiveColor:    " (--color)",
	fault.GiveLineup:   " (--lineup FILE)",
	fault.ShowSetting:  " 'tallywink help setting' has the steps",
}

// HintOf says what to do about a fault.
func HintOf(e *fault.Error) string { return e.Hint + acts[e.Act] }

// stepOf returns a step of an answer as text.
func stepOf(a *answer.Answer, s answer.Step) string {
	how := acts[s.Act]
	if s.Act == fault.PickLamp {
		const most = 4
		var places []string
		for _, p := range a.Places[:min(len(a.Places), most)] {
			places = append(places, fmt.Sprintf("--at %.0f,%.0f", p.X, p.Y))
		}
		how = ": " + strings.Join(places, " or ")
	}
	if how == "" {
		return s.Text
	}
	return strings.TrimSuffix(s.Text, ".") + how + "."
}
