package movie

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// This file reads Y4M by its grammar in the manual page yuv4mpeg(5) of the mjpegtools
// (25 November 2002): a line 'YUV4MPEG2' with tagged fields, each a letter with its
// value, separated by blanks; then for each picture a line 'FRAME', perhaps with
// fields, and the planes. The brightness plane is first and has full size; then come
// the color differences Cb and Cr, and transparency, which is skipped.

const y4mMagic = "YUV4MPEG2"

func half(n int) int { return (n + 1) / 2 }

// space is a color space: how it samples the color differences.
type space struct {
	chroma func(width, height int) (int, int) // the size of a plane, in samples
	useful bool                               // the planes are as large as the picture, or half
	alpha  bool                               // a plane of transparency follows
}

var (
	halfBoth = space{chroma: func(w, h int) (int, int) { return half(w), half(h) }, useful: true}
	gray     = space{chroma: func(int, int) (int, int) { return 0, 0 }}
	whole    = func(w, h int) (int, int) { return w, h }
)

// spaces are the 8-bit color spaces, by the value of parameter C. The variants of 420
// differ only in where color is sampled, by less than a sample. 411 samples a quarter of
// the width: its color is not used.
var spaces = map[string]space{
	"420": halfBoth, "420jpeg": halfBoth, "420mpeg2": halfBoth, "420paldv": halfBoth,
	"411":      {chroma: func(w, h int) (int, int) { return (w + 3) / 4, h }},
	"422":      {chroma: func(w, h int) (int, int) { return half(w), h }, useful: true},
	"444":      {chroma: whole, useful: true},
	"444alpha": {chroma: whole, useful: true, alpha: true},
	"mono":     gray,
}

type y4m struct {
	in            *bufio.Reader
	seeker        io.Seeker // the reader behind in; nil if it can't be seeked
	width, height int
	chromaWidth   int
	chromaHeight  int // rows of a color difference plane; 0 if they are not used
	skip          int // bytes of planes that are not used
	rate, scale   int64
	pictures      int64
	band          []uint8
}

// maxHeader is how long a header line may be.
const maxHeader = 1 << 10

func newY4M(in *bufio.Reader, seeker io.Seeker) (*y4m, error) {
	line, err := y4mLine(in)
	if err != nil {
		return nil, readError(0, "the video", "the header line does not end", err)
	}
	m := &y4m{in: in, seeker: seeker}
	name := "420jpeg" // the default color space
	for i, word := range strings.Fields(line) {
		if i == 0 {
			if word != y4mMagic {
				return nil, &fault.Error{Text: fmt.Sprintf("the header starts with %q, not with %s",
					wording.Clipped(string(word), 30), y4mMagic), Hint: "save the video again"}
			}
			continue
		}
		value := word[1:]
		var err error
		switch word[0] {
		case 'W':
			m.width, err = strconv.Atoi(value)
		case 'H':
			m.height, err = strconv.Atoi(value)
		case 'F':
			err = m.parseRate(value)
		case 'C':
			name = value
		}
		if err != nil {
			return nil, &fault.Error{Text: fmt.Sprintf("the header's %q can't be read",
				wording.Clipped(string(word), 30)), Hint: "save the video again"}
		}
	}
	if err := checkSize(m.width, m.height); err != nil {
		return nil, err
	}
	if m.rate <= 0 || m.scale <= 0 || m.rate > 1000*m.scale || m.scale > 60*m.rate {
		return nil, &fault.Error{Text: "the header has no frame rate, or an impossible one",
			Hint: "write F30:1 there for 30 pictures a second"}
	}
	of, ok := spaces[name]
	if !ok {
		return nil,
			&fault.Error{Text: fmt.Sprintf("the color space is %s, but only 8-bit 4:2:0, 4:1:1, 4:2:2, 4:4:4 and mono can be read",
				wording.Clipped(name, 30)),
				Hint: "convert it: ffmpeg -i IN.y4m -pix_fmt yuv420p OUT.y4m"}
	}
	width, height := of.chroma(m.width, m.height)
	if of.useful {
		m.chromaWidth, m.chromaHeight = width, height
	} else {
		m.skip = 2 * width * height
	}
	if of.alpha {
		m.skip += m.width * m.height
	}
	m.band = make([]uint8, Band*m.width)
	return m, nil
}

func (m *y4m) parseRate(value string) error {
	rate, scale, _ := strings.Cut(value, ":")
	var err error
	if m.rate, err = strconv.ParseInt(rate, 10, 32); err != nil {
		return err
	}
	m.scale, err = strconv.ParseInt(scale, 10, 32)
	return err
}

// y4mLine reads a line without its end.
func y4mLine(in *bufio.Reader) (string, error) {
	var line []byte
	for len(line) < maxHeader {
		c, err := in.ReadByte()
		if err != nil {
			return string(line), err
		}
		if c == '\n' {
			return string(line), nil
		}
		line = append(line, c)
	}
	return string(line), errLong
}

var errLong = errors.New("no line end in a thousand bytes")

func (m *y4m) Size() (int, int) { return m.width, m.height }

func (m *y4m) ChromaSize() (int, int) { return m.chromaWidth, m.chromaHeight }

func (m *y4m) Length() time.Duration { return m.timeOf(m.pictures) }

// timeOf returns when a picture is shown, counting pictures from 0.
func (m *y4m) timeOf(picture int64) time.Duration {
	seconds := float64(picture) * float64(m.scale) / float64(m.rate)
	return time.Duration(math.Round(seconds * 1e9))
}

func (m *y4m) Next(take func(plane Plane, top int, rows []uint8)) (time.Duration, error) {
	number := m.pictures + 1
	if _, err := m.in.Peek(1); err == io.EOF {
		return 0, io.EOF
	}
	if head, err := m.in.Peek(len("FRAME")); err == nil && !bytes.Equal(head, []byte("FRAME")) {
		return 0,
			&fault.Error{Text: inPicture(int(number)) + fmt.Sprintf("it should start with FRAME; the header says %d x %d, but the pictures are not that size",
				m.width, m.height),
				Hint: "save the video again"}
	}
	if m.timeOf(number) > maxLength {
		return 0, tooLong(int(number))
	}
	if _, err := y4mLine(m.in); err != nil {
		return 0, readError(int(number), "the video", "the video ends in the middle of it", err)
	}
	err := m.plane(Luma, m.width, m.height, take)
	for _, p := range []Plane{BlueDifference, RedDifference} {
		if err == nil {
			err = m.plane(p, m.chromaWidth, m.chromaHeight, take)
		}
	}
	if err == nil {
		err = m.pass(m.skip)
	}
	if err != nil {
		return 0, readError(int(number), "the video", "the video ends in the middle of it", err)
	}
	m.pictures++
	return m.timeOf(number - 1), nil
}

// plane reads one plane of a picture.
func (m *y4m) plane(p Plane, width, height int, take func(plane Plane, top int, rows []uint8)) error {
	for top := 0; top < height; top += Band {
		rows := m.band[:min(Band, height-top)*width]
		if _, err := io.ReadFull(m.in, rows); err != nil {
			return err
		}
		take(p, top, rows)
	}
	return nil
}

// pass skips bytes.
func (m *y4m) pass(bytes int) error {
	buffered := min(m.in.Buffered(), bytes)
	if _, err := m.in.Discard(buffered); err != nil {
		return err
	}
	rest := bytes - buffered
	if rest > 0 && m.seeker != nil {
		// Read the last byte, so that a file that ends too early is noticed.
		if _, err := m.seeker.Seek(int64(rest-1), io.SeekCurrent); err != nil {
			return err
		}
		rest = 1
	}
	_, err := m.in.Discard(rest)
	return err
}
