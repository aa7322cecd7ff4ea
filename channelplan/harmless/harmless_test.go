package harmless

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestText(t *testing.T) {
	for text, want := range map[string]string{
		"Osier Hub": "Osier Hub", "\x1b[31mred\x1b[0m": "?[31mred?[0m", "a\tb": "a b", "a\nb\r": "a?b?", "\u202egnp\u2066": "?gnp?",
		"a\u200bb\ufeff": "a?b?", "\u009b2J": "?2J", "M\u00fcller \u5c71 \u05d0": "M\u00fcller \u5c71 \u05d0", "\xff": "\ufffd",
	} {
		assert.Equal(t, want, Text(text))
	}
	assert.Equal(t, "&lt;/text&gt;&amp;&#34;?", XML("</text>&\"\x00"))
}

func ExampleText() {
	fmt.Println(Text("OSR-01\x1b[2J"))
	// Output: OSR-01?[2J
}

func TestSpreadsheet(t *testing.T) {
	for value, want := range map[string]string{"=1+1": "'=1+1", "@SUM": "'@SUM", "+1": "'+1", "-cmd": "'-cmd", "\tx": "'\tx", "-12.5": "-12.5", "-1,5": "-1,5", "-": "'-", "A1": "A1", "": ""} {
		assert.Equal(t, want, Spreadsheet(value))
	}
}
