package main

import (
	"tallywink.example/channelplan/answer"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

// tell prints an answer, for a person or a program, and returns the exit status.
func tell(out *console.Console, a *answer.Answer, of input.Asked, asJSON bool) (int, error) {
	status := exitWell
	if a.BadNews(of.Strict) {
		status = exitBadNews
	}
	if asJSON {
		return status, out.JSON(a.Document())
	}
	if of.Brief {
		out.Line("%s", a.Brief())
		return status, nil
	}
	report.PrintAnswer(out, a, of.Flags, true)
	return status, nil
}
