package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"time"

	"golang.org/x/term"

	"tallywink.example/blink"
	"tallywink.example/cmd/tallywink/console"
)

// This file plays a lamp in the terminal in true time. Each change of light is
// placed by the time since the first, never by adding up waits, so that no
// lateness builds up; and where it is much too late, the play begins anew.

// stage is what a lamp is played on: where it is drawn, and the clock.
type stage struct {
	out io.Writer
	now func() time.Time
	// wait returns true at a time, or false where the play is stopped before.
	wait func(until time.Time) bool
}

const (
	// lookThere is the dark before a play: time to look there.
	lookThere = 1200 * time.Millisecond
	// lateMost is how late a change may be. What is later was put aside, or stands
	// on a terminal that stood still, and begins anew: it must not catch up.
	lateMost = 250 * time.Millisecond
)

// errStopped is the end of a play that is stopped.
var errStopped = errors.New("stopped")

// play shows intervals again and again until it is stopped, and leaves the
// terminal as it found it. The error wraps blink.ErrFlashes where they flash
// too fast to be shown, or is that of the writer.
func play(s stage, intervals []blink.Interval) error {
	if err := blink.CheckShown(intervals); err != nil {
		return err
	}
	if _, err := io.WriteString(s.out, console.HideCursor); err != nil {
		return err
	}
	p := player{stage: s}
	var err error
	for err == nil {
		err = p.begin(intervals)
	}
	if !errors.Is(err, errStopped) {
		return err
	}
	_, err = io.WriteString(s.out, console.EraseLine+console.ShowCursor)
	return err
}

type player struct {
	stage
	shutter blink.Shutter
}

// begin plays from the beginning until a change is too late, or an error.
func (p *player) begin(intervals []blink.Interval) error {
	if err := p.light(false); err != nil {
		return err
	}
	due := p.now().Add(lookThere)
	for i := 0; ; i = (i + 1) % len(intervals) {
		if !p.wait(due) {
			return errStopped
		}
		if p.now().Sub(due) > lateMost {
			return nil
		}
		if err := p.light(intervals[i].Lit); err != nil {
			return err
		}
		due = due.Add(intervals[i].Duration)
	}
}

// light draws the lamp, as soon as that may be shown.
func (p *player) light(lit bool) error {
	for {
		_, again := p.shutter.Show(lit, p.now())
		if again.IsZero() {
			_, err := io.WriteString(p.out, console.EraseLine+lampLine(lit))
			return err
		}
		if !p.wait(again) {
			return errStopped
		}
	}
}

// lampLine draws the lamp on one line: that works over any terminal.
func lampLine(lit bool) string {
	const width = 24
	return strings.Repeat(" ", console.LabelWidth) + "(" + strings.Repeat(either(lit, "#", " "), width) + ")"
}

// slowerUnit says from which unit on a code may be shown.
func slowerUnit(code *blink.Code) string {
	if unit := code.ShownFrom(); unit > 0 {
		return fmt.Sprintf("use a unit of %v or longer; --svg draws it without flashing", unit)
	}
	return "this code is not shown flashing at any unit; --svg draws it"
}

// keys are those pressed while a lamp is played: they are kept from standing in it,
// and from reaching the shell behind. Without a terminal to read them from there
// are none.
type keys struct {
	fd      int
	before  *term.State // of the terminal; nil where there is none
	pressed chan byte
}

func readKeys(in io.Reader) *keys {
	k := &keys{pressed: make(chan byte)}
	f, ok := in.(*os.File)
	if !ok || !console.IsTerminal(f) {
		return k
	}
	k.fd = int(f.Fd())
	k.take()
	go func() { // it waits for a key until the program ends
		one := make([]byte, 1)
		for {
			if n, err := f.Read(one); err != nil || n == 0 {
				return
			}
			k.pressed <- one[0]
		}
	}()
	return k
}

// take takes keys one by one, unseen; give has the terminal as it was before.
func (k *keys) take() {
	if before, err := term.MakeRaw(k.fd); err == nil {
		k.before = before
	}
}

func (k *keys) give() {
	if k.before != nil {
		_ = term.Restore(k.fd, k.before) // it was there a moment ago
		k.before = nil
	}
}

// The bytes of keys, ECMA-48: Ctrl-C, Ctrl-D, Ctrl-Z, Esc.
const (
	keyCtrlC = 0x03
	keyCtrlD = 0x04
	keyCtrlZ = 0x1a
	keyEsc   = 0x1b
)

// checkShow tells what would keep a lamp from being played.
func checkShow(out *console.Console, code *blink.Code, intervals []blink.Interval, unit time.Duration) error {
	if !out.Terminal {
		return misuse("run it in a terminal; --svg draws it to a file", "--show needs a terminal to play on")
	}
	if blink.CheckShown(intervals) != nil {
		return misuse(slowerUnit(code),
			"at --unit %v the lamp would flash more than %d times in a second", unit, blink.MaxFlashes)
	}
	return nil
}

// showLamp plays a lamp on the program's own terminal until it is interrupted.
func showLamp(out *console.Console, intervals []blink.Interval) error {
	out.Line("")
	out.Line("This flashes. Look away if flashing light harms you; Esc or Ctrl-C ends it.")
	if err := out.Flush(); err != nil {
		return err
	}
	stop, aside := make(chan os.Signal, 1), make(chan os.Signal, 1)
	signal.Notify(stop, stopSignals...)
	defer signal.Stop(stop)
	notifyAside(aside)
	defer signal.Stop(aside)
	k := readKeys(out.In)
	defer k.give()
	// putAside stops the program, and returns when it is brought back.
	putAside := func() error {
		out.Out.WriteString(console.EraseLine + console.ShowCursor)
		if err := out.Out.Flush(); err != nil {
			return err
		}
		taken := k.before != nil
		k.give()
		stopHere()
		if taken {
			k.take()
		}
		out.Out.WriteString(console.HideCursor) // told of when the lamp is drawn
		return nil
	}
	return play(stage{out: out.Out, now: time.Now, wait: func(until time.Time) bool {
		if out.Out.Flush() != nil {
			return false
		}
		timer := time.NewTimer(time.Until(until))
		defer timer.Stop()
		for {
			select {
			case <-timer.C:
				return true
			case <-stop:
				return false
			case key := <-k.pressed:
				switch key {
				case keyCtrlC, keyCtrlD, keyEsc:
					return false
				case keyCtrlZ:
					if putAside() != nil {
						return false
					}
				}
			case <-aside:
				if putAside() != nil {
					return false
				}
			}
		}
	}}, intervals)
}
