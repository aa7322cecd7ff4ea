// Package screen runs a session of package trainer on a terminal: it copies rows and the
// lamp to the terminal, reads keys, lets the session be suspended and resumed, and leaves
// the terminal as it was.
package screen

import (
	"context"
	"fmt"
	"os/signal"
	"time"

	"github.com/gdamore/tcell/v2"

	"tallywink.example/trainer"
)

// Run runs a session on this program's terminal until it is over, or a signal stops it.
// plain turns color off. Run returns an error if there is no usable terminal.
func Run(s trainer.Session, plain bool) error {
	screen, err := newScreen()
	if err == nil {
		err = screen.Init()
	}
	if err != nil {
		return fmt.Errorf("this needs a terminal: %w", err)
	}
	defer screen.Fini()
	ctx, stop := signal.NotifyContext(context.Background(), StopSignals...)
	defer stop()
	run(ctx, screen, s, !plain && screen.Colors() >= 8)
	return nil
}

// run runs a session on a screen that the caller initializes and closes.
func run(ctx context.Context, s tcell.Screen, session trainer.Session, color bool) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	s.EnablePaste()
	pasting := false
	in := events(ctx, s, time.Now)
	timer := time.NewTimer(0)
	defer timer.Stop()
	done := make(chan func())
	var gate trainer.Gate
	for !session.Over() {
		if work := session.Work(time.Now()); work != nil {
			go func() {
				take := work()
				select {
				case done <- take:
				case <-ctx.Done():
				}
			}()
		}
		width, height := s.Size()
		now := time.Now()
		view := gate.Pass(session.View(now, width, height), width, height, now)
		draw(s, view, color)
		session.Drawn(time.Now())
		gate.Drawn(time.Now())
		timer.Reset(time.Until(view.Wake))
		select {
		case e, ok := <-in:
			for more := true; more && ok; {
				if p, ok := e.event.(*tcell.EventPaste); ok {
					pasting = p.Start()
				}
				if key, typed := e.event.(*tcell.EventKey); !typed || !pasting || key.Key() == tcell.KeyCtrlC {
					take(s, session, e) // what is pasted is no answer
				}
				select { // handle events that have already come before the next redraw
				case e, ok = <-in:
				default:
					more = false
				}
			}
			if !ok {
				return
			}
		case take := <-done:
			take()
		case <-timer.C:
		case <-ctx.Done():
			return
		}
	}
}

// take passes an event to the session.
func take(s tcell.Screen, session trainer.Session, e stamped) {
	switch event := e.event.(type) {
	case *tcell.EventResize:
		s.Sync()
	case *tcell.EventKey:
		if key, ok := keys[event.Key()]; ok {
			session.Key(key, e.at)
		} else if event.Key() == tcell.KeyRune {
			session.Key(event.Rune(), e.at)
		}
	}
}

var keys = map[tcell.Key]rune{
	tcell.KeyEnter: trainer.KeyEnter, tcell.KeyEscape: trainer.KeyEscape, tcell.KeyCtrlC: trainer.KeyBreak,
	tcell.KeyBackspace: trainer.KeyBackspace, tcell.KeyBackspace2: trainer.KeyBackspace,
	tcell.KeyLeft: trainer.KeyLeft, tcell.KeyRight: trainer.KeyRight,
}

var styles = map[trainer.Style]tcell.Style{
	trainer.Plain: tcell.StyleDefault, trainer.Strong: tcell.StyleDefault.Bold(true),
	trainer.Marked: tcell.StyleDefault.Reverse(true),
}

// draw copies a view to the screen; rows that do not fit are left out. The library sends
// only what changed.
func draw(s tcell.Screen, v trainer.View, color bool) {
	s.Clear()
	width, height := s.Size()
	if v.Lamp != nil {
		drawLamp(s, *v.Lamp, width, color)
	}
	for _, r := range v.Rows {
		if r.Y < height {
			s.PutStrStyled(r.X, r.Y, trainer.Fit(r.Text, width-r.X), styles[r.Style])
		}
	}
	s.Show()
}

// stamped is an event with the time at which it came.
type stamped struct {
	event tcell.Event
	at    time.Time
}

// events receives a screen's events, each stamped at once, until the screen
// is closed or the context ends.
func events(ctx context.Context, s tcell.Screen, now func() time.Time) <-chan stamped {
	c := make(chan stamped, 64)
	go func() {
		defer close(c)
		for {
			e := s.PollEvent()
			if e == nil {
				return
			}
			select {
			case c <- stamped{e, now()}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return c
}
