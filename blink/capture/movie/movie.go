// Package movie reads a video as pictures with their times, as brightness and color
// differences: GIF and Y4M, the open uncompressed format of the mjpegtools.
//
// It streams both formats: memory holds a picture or two, whatever the movie's length
// and whatever a header says.
package movie

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"
	"unicode/utf8"

	"tallywink.example/channelplan/fault"
)

// Band is how many rows of a picture are handed over at a time.
const Band = 64

// Plane is one of the three planes of a picture.
type Plane int

// The planes, as ITU-R BT.601 defines them: brightness, and how much more blue or red
// than it a color is. The differences are 128 for gray.
const (
	Luma Plane = iota
	BlueDifference
	RedDifference
)

// Movie is a source of pictures of one size.
type Movie interface {
	// Size returns the width and height in pixels.
	Size() (width, height int)
	// ChromaSize returns the width and height of the two color difference planes, in
	// samples, each as large as the picture or half as large. It returns 0, 0 if there are
	// none.
	ChromaSize() (width, height int)
	// Next reads the next picture and returns when it is shown, since the beginning of the
	// movie, or io.EOF after the last one. It passes the samples of each plane, 0 to 255,
	// to take, from the top in bands of [Band] rows. The last band may have fewer rows. A
	// picture without color may leave out the color differences. A band is valid until
	// take returns. If the movie breaks off or is damaged, perhaps after some bands, the
	// error is a [*fault.Error].
	Next(take func(plane Plane, top int, rows []uint8)) (time.Duration, error)
	// Length returns how long the movie is, from its beginning to the end of the last
	// picture. Call it after Next has returned io.EOF.
	Length() time.Duration
}

// inPicture begins an error text about a picture, with its number, from 1.
func inPicture(number int) string { return fmt.Sprintf("picture %d: ", number) }

// readError makes an error about what was being read in a picture. If the input or a
// line ended too early, the text is ended. An [*fault.Error] is returned unchanged.
func readError(picture int, what, ended string, err error) error {
	var own *fault.Error
	switch {
	case errors.As(err, &own):
		return err
	case err == io.EOF || err == io.ErrUnexpectedEOF || err == errLong:
		return &fault.Error{Text: inPicture(picture) + ended, Hint: "copy or save " + what + " again"}
	}
	return fmt.Errorf("picture %d: the rest of %s can't be read: %w", picture, what, err)
}

// maxPixels is the largest size of a picture: 4096 x 4096.
const maxPixels = 16 << 20

// maxLength is the longest possible movie.
const maxLength = 30 * 24 * time.Hour

func tooLong(picture int) error {
	return &fault.Error{Text: inPicture(picture) + "the video says it is longer than a month",
		Hint: "cut it to the half minute that matters"}
}

// maxSide is the longest side of a picture.
const maxSide = 16384

// checkSize rejects invalid sizes.
func checkSize(width, height int) error {
	if width < 1 || height < 1 {
		return &fault.Error{Text: fmt.Sprintf("the size is given as %d x %d", width, height),
			Hint: "save the video again"}
	}
	if width > maxSide || height > maxSide || width*height > maxPixels {
		return &fault.Error{Text: fmt.Sprintf("the pictures are %d x %d, and the limit is %d million pixels", width,
			height, maxPixels>>20),
			Hint: "scale the video down: 1920 x 1080 is plenty"}
	}
	return nil
}

// ErrFormat is what [Read] returns for anything that is neither GIF nor Y4M.
var ErrFormat = errors.New("neither GIF nor Y4M")

// Read reads a GIF or a Y4M. If the input is neither, the error is [ErrFormat] and rest
// still has all of it, including what was examined. Other errors are [*fault.Error]s or
// the reader's. If the input is a file, Read skips what is not needed.
func Read(in io.Reader) (m Movie, rest io.Reader, err error) {
	buffered := bufio.NewReaderSize(in, 256<<10)
	seeker, ok := in.(io.Seeker)
	if ok && isFile(in) {
		buffered = bufio.NewReaderSize(in, 4<<10) // do not read much that is not needed
	} else {
		seeker = nil
	}
	head, err := buffered.Peek(len(y4mMagic))
	switch {
	case bytes.HasPrefix(head, []byte("GIF87a")), bytes.HasPrefix(head, []byte("GIF89a")):
		m, err := newGIF(buffered)
		return m, nil, err
	case bytes.HasPrefix(head, []byte(y4mMagic)):
		m, err := newY4M(buffered, seeker)
		return m, nil, err
	case len(head) == 0 && (err == io.EOF || err == nil):
		return nil, nil, &fault.Error{Text: "there is nothing in it",
			Hint: "record the lamp for a frame or two, ten seconds at least"}
	case err != nil && err != io.EOF:
		return nil, nil, err
	}
	// ffmpeg would take text for pictures of text, or for a list of other files.
	if head, _ := buffered.Peek(512); isText(head) {
		return nil, nil, &fault.Error{Text: "this is text, not a video",
			Hint: "name a clip: GIF, Y4M, or another video", Act: fault.ReadTrace}
	}
	return nil, buffered, ErrFormat
}

// isText reports whether a file's beginning is text.
func isText(head []byte) bool {
	for len(head) > 0 {
		r, n := utf8.DecodeRune(head)
		if r == utf8.RuneError && len(head) >= utf8.UTFMax || r < ' ' && !strings.ContainsRune("\t\r\n\f", r) {
			return false
		}
		head = head[n:]
	}
	return true
}

// isFile reports whether a reader is a regular file, which can be seeked.
func isFile(in io.Reader) bool {
	f, ok := in.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode().IsRegular()
}
