package fault_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"

	"tallywink.example/channelplan/fault"
)

// What a face adds to a hint ends the hint's sentence, or is one of its own.
func TestHintAnd(t *testing.T) {
	hint, none := &fault.Error{Hint: "correct the row"}, &fault.Error{}
	assert.Equal(t, "correct the row, or use another", hint.HintAnd(", or use another"))
	assert.Equal(t, "correct the row; 'plan' lists all", hint.HintAnd("'plan' lists all"))
	assert.Equal(t, "correct the row", hint.HintAnd(""))
	assert.Equal(t, "'plan' lists all", none.HintAnd("'plan' lists all"))
}

// A fault says where, what and what to do, whoever adds to it, and stays what it was.
func TestAddingToAFault(t *testing.T) {
	cause := errors.New("cause")
	own := &fault.Error{Line: 3, Column: 7, Text: "no such channel", Hint: "check it", Err: cause}
	assert.Equal(t, "3:7: no such channel; check it", own.Error())
	assert.Equal(t, "no such channel; check it", own.Said())
	named := fault.In("amps.csv", own, "")
	assert.Equal(t, "amps.csv:3:7: no such channel; check it", named.Error())
	assert.ErrorIs(t, named, cause)
	assert.Empty(t, own.File)
	fault.Of(own).Text = "changed"
	assert.Equal(t, "no such channel", own.Text)
	assert.Equal(t, "cause", fault.Of(cause).Said())
	assert.ErrorIs(t, fault.Of(cause), cause)
	assert.NoError(t, fault.In("amps.csv", nil, ""))
}
