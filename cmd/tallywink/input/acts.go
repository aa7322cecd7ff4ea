package input

import "tallywink.example/channelplan/fault"

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

// ActText says how to do something on this command line; it ends a sentence. It is "" if
// there is nothing to add.
func ActText(a fault.Act) string { return acts[a] }

// HintOf says what to do about a fault.
func HintOf(e *fault.Error) string { return e.HintAnd(acts[e.Act]) }
