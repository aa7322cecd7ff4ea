package table_test

import (
	"fmt"
	"strings"

	"tallywink.example/channelplan/table"
)

// Line by line: the header, then the rows, with values by column name.
func ExampleTable() {
	t, err := table.New(strings.NewReader("Amp;Span dB\nOSR-01;22,5\n"), "amps.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	header, _ := t.ReadLine()
	if err := t.ReadHeader(header); err != nil {
		fmt.Println(err)
		return
	}
	line, _ := t.ReadLine()
	fields, problem := t.Split(line, t.Line)
	fmt.Println(t.Value(fields, "amp").Text, t.Number(t.Value(fields, "span_db").Text), problem == nil)
	// Output: OSR-01 22.5 true
}
