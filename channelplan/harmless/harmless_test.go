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
