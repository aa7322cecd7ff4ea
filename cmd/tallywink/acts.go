package main

import "tallywink.example/channelplan/fault"

// acts says how what a hint asks for is done on this command line.
var acts = map[fault.Act]string{
	fault.NameBook:     "with --book",
	fault.BuiltIn:      "or use 'demo' for the built-in system",
	fault.BuiltInSheet: "or use tally or curlew, which are built in",
	fault.GiveInput:    "or use - for standard input",
	fault.ManyLamps:    "or use --each for many",
	fault.ReadTrace:    "or use --trace for a recording of brightness",
	fault.ShowProblems: "'tallywink lineup' shows what is wrong with each",
	fault.AuditRows:    "or use 'tallywink audit', which takes millions",
	fault.NameDay:      "with --since",
	fault.ShowSheet:    "'tallywink sheet tally --print' shows one",
	fault.ListChannels: "'tallywink plan' lists the channels there are",
}

// hintOf is what to do about a fault, in the words of the command line.
func hintOf(e *fault.Error) string {
	how := acts[e.Act]
	switch {
	case how == "":
		return e.Hint
	case e.Hint == "":
		return how
	}
	return e.Hint + ", " + how
}
