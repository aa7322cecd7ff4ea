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
// color and transparency. Color matters only for how much to skip.

const y4mMagic = "YUV4MPEG2"

// chroma returns how many bytes of other planes follow a picture's brightness.
type chroma func(width, height int) int

func half(n int) int { return (n + 1) / 2 }

// chromas are the 8-bit color spaces, by the value of parameter C. The variants of 420
// differ only in where color is sampled, which does not change the sizes.
var chromas = map[string]chroma{
	"420":      func(w, h int) int { return 2 * half(w) * half(h) },
	"420jpeg":  func(w, h int) int { return 2 * half(w) * half(h) },
	"420mpeg2": func(w, h int) int { return 2 * half(w) * half(h) },
	"420paldv": func(w, h int) int { return 2 * half(w) * half(h) },
	"411":      func(w, h int) int { return 2 * ((w + 3) / 4) * h },
	"422":      func(w, h int) int { return 2 * half(w) * h },
	"444":      func(w, h int) int { return 2 * w * h },
	"444alpha": func(w, h int) int { return 3 * w * h },
	"mono":     func(int, int) int { return 0 },
}

type y4m struct {
	in            *bufio.Reader
	seeker        io.Seeker // the reader behind in; nil if it can't be seeked
	width, height int
	skip          int // bytes of other planes
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
	space := "420jpeg" // the default
	for i, word := range strings.Fields(line) {
		if i == 0 {
			if word != y4mMagic {
				return nil, &fault.Error{Text: fmt.Sprintf("the header starts with %q, not with %s", wording.Clipped(string(word), 30), y4mMagic), Hint: "save the video again"}
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
			space = value
		}
		if err != nil {
			return nil, &fault.Error{Text: fmt.Sprintf("the header's %q can't be read", wording.Clipped(string(word), 30)), Hint: "save the video again"}
		}
	}
	if err := checkSize(m.width, m.height); err != nil {
		return nil, err
	}
	if m.rate <= 0 || m.scale <= 0 || m.rate > 1000*m.scale || m.scale > 60*m.rate {
		return nil, &fault.Error{Text: "the header has no frame rate, or an impossible one", Hint: "write F30:1 there for 30 pictures a second"}
	}
	planes, ok := chromas[space]
	if !ok {
		return nil, &fault.Error{Text: fmt.Sprintf("the color space is %s, but only 8-bit 4:2:0, 4:1:1, 4:2:2, 4:4:4 and mono can be read", wording.Clipped(string(space), 30)),
			Hint: "convert it: ffmpeg -i IN.y4m -pix_fmt yuv420p OUT.y4m"}
	}
	m.skip = planes(m.width, m.height)
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

func (m *y4m) Length() time.Duration { return m.timeOf(m.pictures) }

// timeOf returns when a picture is shown, counting pictures from 0.
func (m *y4m) timeOf(picture int64) time.Duration {
	seconds := float64(picture) * float64(m.scale) / float64(m.rate)
	return time.Duration(math.Round(seconds * 1e9))
}

func (m *y4m) Next(take func(top int, rows []uint8)) (time.Duration, error) {
	number := m.pictures + 1
	if _, err := m.in.Peek(1); err == io.EOF {
		return 0, io.EOF
	}
	if head, err := m.in.Peek(len("FRAME")); err == nil && !bytes.Equal(head, []byte("FRAME")) {
		return 0, &fault.Error{Text: inPicture(int(number)) + fmt.Sprintf("it should start with FRAME; the header says %d x %d, but the pictures are not that size", m.width, m.height),
			Hint: "save the video again"}
	}
	if m.timeOf(number) > maxLength {
		return 0, tooLong(int(number))
	}
	if _, err := y4mLine(m.in); err != nil {
		return 0, readError(int(number), "the video", "the video ends in the middle of it", err)
	}
	for top := 0; top < m.height; top += Band {
		rows := m.band[:min(Band, m.height-top)*m.width]
		if _, err := io.ReadFull(m.in, rows); err != nil {
			return 0, readError(int(number), "the video", "the video ends in the middle of it", err)
		}
		take(top, rows)
	}
	if err := m.pass(m.skip); err != nil {
		return 0, readError(int(number), "the video", "the video ends in the middle of it", err)
	}
	m.pictures++
	return m.timeOf(number - 1), nil
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
