package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// maxEachLine is the longest line that --each reads; a longer one gets an error and is
// skipped, up to maxSkipped: a file without line ends is not a file of readings.
const (
	maxEachLine = 16 << 10
	maxSkipped  = 1 << 20
)

// eachErrorDoc is the answer to a line that can't be read.
type eachErrorDoc struct {
	Line  int    `json:"line"`
	Error string `json:"error"`
}

// answerEach answers every line of a file in order, with one JSON line each.
func answerEach(out *console.Console, r *answer.Reader, sys input.Asked, path string, told blink.Signal) (int, error) {
	in, err := input.Open(out, path, "name a file of readings, one per line")
	if err != nil {
		return 0, err
	}
	defer in.Close()
	status := exitWell
	lines := bufio.NewReaderSize(in, maxEachLine)
	for n := 1; ; n++ {
		if lines.Buffered() == 0 {
			// A program that sends the readings one by one waits for the answers.
			if err := out.Flush(); err != nil {
				return 0, err
			}
		}
		text, tooLong, err := readEachLine(lines)
		if err == io.EOF && n == 1 {
			return 0, &fault.Error{File: input.NameOf(path), Line: 1, Column: 1, Text: "there are no readings",
				Hint: "give a reading on each line, for instance _.. . _. _.."}
		}
		if err == io.EOF {
			return status, nil
		}
		if err != nil {
			return 0, &fault.Error{File: input.NameOf(path), Line: n, Column: 1,
				Text: "the rest of the file can't be read: " + err.Error(),
				Hint: "give a file with a reading on each line"}
		}
		looks, err := parseEach(sys.Lamp(), text)
		if tooLong {
			err = misuse("each line is one lamp's reading", "the line is longer than %d kB", maxEachLine>>10)
		}
		if err != nil {
			status = exitBadNews
			if err := out.JSONLine(eachErrorDoc{n, eachError(err)}); err != nil {
				return 0, err
			}
			continue
		}
		a := r.Of(looks, told)
		if a.BadNews(sys.Strict) {
			status = exitBadNews
		}
		d := a.Document()
		d.Line = n
		if err := out.JSONLine(d); err != nil {
			return 0, err
		}
	}
}

// parseEach reads a line that is either marks or digits.
func parseEach(code *blink.Code, text string) ([]blink.Frame, error) {
	if strings.ContainsAny(text, "0123456789") && strings.Trim(text, "0123456789?xX*/ \t\ufeff") == "" {
		return code.ParseDigits(strings.TrimPrefix(text, "\ufeff"))
	}
	return blink.ParseNotation(text)
}

// eachError returns an error's text without the line number, which the document has.
func eachError(err error) string {
	var e *fault.Error
	if errors.As(err, &e) && e.Line > 0 {
		return fmt.Sprintf("column %d: %s; %s", e.Column, e.Text, input.HintOf(e))
	}
	return err.Error()
}

// readEachLine returns the next line without its end.
func readEachLine(in *bufio.Reader) (text string, tooLong bool, err error) {
	line, err := in.ReadSlice('\n')
	text = strings.TrimRight(string(line), "\r\n")
	for skipped := 0; err == bufio.ErrBufferFull; {
		if skipped += maxEachLine; skipped > maxSkipped {
			return "", false, fmt.Errorf("a line is longer than %d MB: is this a file of readings?", maxSkipped>>20)
		}
		tooLong = true
		_, err = in.ReadSlice('\n')
	}
	if err == io.EOF && len(line) > 0 {
		err = nil
	}
	return text, tooLong, err
}
