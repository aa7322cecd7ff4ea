package main

import (
	"math"

	"tallywink.example/channelplan/table"
)

// This file holds the parts that JSON documents share. Their names are a contract,
// because other programs read them. Adding to them is fine.

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

// hundredths rounds to two decimals.
func hundredths(x float64) float64 { return math.Round(100*x) / 100 }
