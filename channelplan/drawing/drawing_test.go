package drawing_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/drawing"
)

// Whatever is written into a drawing, it stays one well-formed document (checked by
// encoding/xml) with the shapes asked for and no others, and says the text to the letter,
// but for characters that steer a terminal.
func TestWellFormed(t *testing.T) {
	const hostile = `</text><script>x()</script> & "quoted"`
	s := drawing.New(hostile, 200, 100, drawing.Pixels)
	s.Rect(1.5, 2.25, 3.125, 4, drawing.Gray, hostile)
	s.Line(drawing.Black, 1, 2, 0, 0, 10, 0, 10, 10)
	s.Write(drawing.Words{X: 1, Y: 2, Size: 12, Anchor: drawing.Middle, Bold: true, Text: hostile + "\x1b[2J\u202e",
		Tail: hostile})

	elements := map[string]int{}
	var texts []string
	for decoder := xml.NewDecoder(strings.NewReader(s.String())); ; {
		token, err := decoder.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch e := token.(type) {
		case xml.StartElement:
			elements[e.Name.Local]++
			if e.Name.Local == "path" {
				assert.Equal(t, "M0 0L10 0L10 10", e.Attr[0].Value)
			}
		case xml.CharData:
			if text := strings.TrimSpace(string(e)); text != "" {
				texts = append(texts, text)
			}
		}
	}
	assert.Equal(t, map[string]int{"svg": 1, "title": 1, "rect": 2, "path": 1, "text": 1, "tspan": 1}, elements)
	require.Len(t, texts, 3)
	assert.Equal(t, hostile, texts[0])
	assert.NotContains(t, texts[1], "\x1b")
	assert.NotContains(t, texts[1], "\u202e")
	assert.Equal(t, hostile, texts[2])
}

func TestWriterFails(t *testing.T) {
	_, err := drawing.New("", 1, 1, drawing.Points).WriteTo(full{})
	require.ErrorIs(t, err, errFull)
}

var errFull = errors.New("full")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

func ExampleSheet() {
	s := drawing.New("a bar", 20, 10, drawing.Millimeters)
	s.Rect(2, 4, 16, 2, drawing.Black, "lit")
	fmt.Print(s)
	// Output:
	// <svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10" font-family="sans-serif" fill="#000">
	// <title>a bar</title>
	// <rect x="0" y="0" width="20" height="10" fill="#fff"/>
	// <rect class="lit" x="2" y="4" width="16" height="2"/>
	// </svg>
}
