// Package sheet reads code sheets: small text files in which a supervisor describes a
// counted-pulse code once, from the equipment's own documentation, so that the whole
// program works with it.
//
// A sheet is TOML. The Tally code itself is an embedded sheet, and the default: see
// [Tally]. [Parse] reads a sheet and reports what is wrong with it, with line and
// column and what to do.
package sheet

import (
	_ "embed"
	"fmt"
	"io"
	"sync"

	"tallywink.example/blink"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
)

//go:embed tally.toml
var tallyTOML []byte

//go:embed curlew.toml
var curlewTOML []byte

// Names of the built-in sheets, accepted instead of a file name.
const (
	TallyName  = "tally"
	CurlewName = "curlew" // an invented example
)

// Tally returns the Tally code, from its sheet.
var Tally = sync.OnceValue(func() *blink.Code { return builtIn(tallyTOML, TallyName) })

func builtIn(data []byte, name string) *blink.Code {
	code, problems := Parse(data)
	if len(problems) > 0 {
		panic(fmt.Sprintf("the sheet %s that is built in: %v", name, problems[0]))
	}
	return code
}

// Text returns the text of a built-in sheet, to start a new sheet from, and reports
// whether there is one of that name.
func Text(name string) (string, bool) {
	switch name {
	case TallyName:
		return string(tallyTOML), true
	case CurlewName:
		return string(curlewTOML), true
	}
	return "", false
}

// maxBytes is how long a sheet may be; the built-in ones have less than two kilobytes.
const maxBytes = 1 << 20

// Open reads a built-in sheet by name, or a sheet from a file. An empty name means
// Tally. The error is a [*fault.Error] if the file can't be read. Anything wrong with
// the sheet itself is in the problems, and then there is no code.
func Open(name string) (*blink.Code, []fault.Error, error) {
	switch name {
	case "", TallyName:
		return Tally(), nil, nil
	case CurlewName:
		return builtIn(curlewTOML, name), nil, nil
	}
	f, err := table.Open(name, fault.BuiltInSheet, "name a TOML file in it")
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(table.Limit(f, maxBytes, "a code sheet"))
	if err != nil {
		return nil, nil, &fault.Error{File: name, Text: err.Error(), Hint: "is this the right file?"}
	}
	code, problems := Parse(data)
	return code, problems, nil
}
