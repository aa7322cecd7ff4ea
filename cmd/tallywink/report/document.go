// Package report says what the commands have found: as text for a person, as JSON for a
// program, as CSV for a spreadsheet, and as pages that a supervisor hands on. It takes what
// the libraries return. It opens no input and decides no exit status; what it knows of a
// command line is what to tell people to type.
//
// A type whose name ends in Doc is a part of a JSON document. Its names are a contract,
// because other programs read them; adding to them is fine.
package report

import (
	"math"

	"tallywink.example/channelplan/fault"
)

type problemDoc struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

func problemDocs(problems []fault.Error) []problemDoc {
	docs := make([]problemDoc, len(problems))
	for i, p := range problems {
		docs[i] = problemDoc{p.Line, p.Column, p.Said()}
	}
	return docs
}

// hundredths rounds to two decimals.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }
