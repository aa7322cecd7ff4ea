package wording_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"tallywink.example/channelplan/wording"
)

func TestText(t *testing.T) {
	for text, want := range map[string]string{
		"Osier Hub": "Osier Hub", "\x1b[31mred\x1b[0m": "?[31mred?[0m", "a\tb": "a b", "a\nb\r": "a?b?",
		"\u202egnp\u2066": "?gnp?",
		"a\u200bb\ufeff":  "a?b?", "\u009b2J": "?2J", "M\u00fcller \u5c71 \u05d0": "M\u00fcller \u5c71 \u05d0",
		"\xff": "\ufffd",
		"a\u034fb\u115fc\u3164d\u2800e\ufe0ff\U000e0101": "a?b?c?d?e?f?",
	} {
		assert.Equal(t, want, wording.Harmless(text))
	}
	assert.Equal(t, "&lt;/text&gt;&amp;&#34;?", wording.XML("</text>&\"\x00"))
}

// A document means the same, and has nothing hidden in it.
func TestJSON(t *testing.T) {
	plain := []byte("{\n  \"a\": \"M\u00fcller \u5c71\"\n}\n")
	assert.Equal(t, plain, wording.HarmlessJSON(plain))
	const text = "x\x7f\u009b2J\u202e\u200b\u2800\U000e0101\u00e9 \U0001f600"
	document, err := json.Marshal(text)
	assert.NoError(t, err)
	safe := wording.HarmlessJSON(document)
	assert.Equal(t, `"x\u007f\u009b2J\u202e\u200b\u2800\udb40\udd01`+"\u00e9 \U0001f600\"", string(safe))
	var back string
	assert.NoError(t, json.Unmarshal(safe, &back))
	assert.Equal(t, text, back)
}

func ExampleHarmless() {
	fmt.Println(wording.Harmless("OSR-01\x1b[2J"))
	// Output: OSR-01?[2J
}

func TestSpreadsheet(t *testing.T) {
	for value, want := range map[string]string{"=1+1": "'=1+1", "@SUM": "'@SUM", "+1": "'+1", "-cmd": "'-cmd",
		"\tx": "'\tx", "-12.5": "-12.5", "-1,5": "-1,5", "-": "'-", "A1": "A1", "": ""} {
		assert.Equal(t, want, wording.Spreadsheet(value))
	}
}

// What was escaped for a spreadsheet and read back is the text that it was.
func TestEscapedIsReadBack(t *testing.T) {
	for _, text := range []string{"=A1", "'=A1", "''=A1", "+1", "-x", "-12.5", "'-12.5", "@", "'", "''", "'A1",
		"O'Brien", "A1", "", "\tx"} {
		assert.Equal(t, text, wording.Unescaped(wording.Spreadsheet(text)), "%q", text)
	}
}
