package screen

import (
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"
)

// suspending is a screen that Ctrl-Z puts aside, where the system has that,
// and fg brings back; and that can be left while somebody pastes into it.
type suspending struct {
	tcell.Screen
	input *mutable   // what it reads; nil where that can't be muted
	aside sync.Mutex // held while the screen is put aside: nothing is drawn then
	gone  bool       // it is being left: then it is not put aside any more
	away  bool       // it was put aside, and the terminal did not come back
}

// Show draws what has changed, once the screen is there.
func (s *suspending) Show() {
	s.aside.Lock()
	defer s.aside.Unlock()
	if !s.away { // the library would draw for ever
		s.Screen.Show()
	}
}

// Sync draws everything anew, once the screen is there.
func (s *suspending) Sync() {
	s.aside.Lock()
	defer s.aside.Unlock()
	if !s.away {
		s.Screen.Sync()
	}
}

// PollEvent waits for the next event but Ctrl-Z, which never reaches the
// screen's program; nil is the end, also where the terminal did not come back.
func (s *suspending) PollEvent() tcell.Event {
	for {
		e := s.Screen.PollEvent()
		if key, ok := e.(*tcell.EventKey); !ok || key.Key() != tcell.KeyCtrlZ {
			return e
		}
		if !s.putAside() {
			return nil
		}
	}
}

// Fini leaves the screen.
func (s *suspending) Fini() {
	s.aside.Lock()
	s.gone = true
	s.aside.Unlock()
	go func() { // until the screen is left
		for s.Screen.PollEvent() != nil {
		}
	}()
	s.hush(func() {})
	s.Screen.Fini()
}

// putAside stops the program until it is continued, and reports whether the terminal
// is there again.
func (s *suspending) putAside() (back bool) {
	s.aside.Lock()
	defer s.aside.Unlock()
	if s.gone {
		return true
	}
	s.hush(func() { s.Screen.PollEvent() })
	if s.Suspend() != nil {
		return true
	}
	StopHere()
	if s.Resume() != nil {
		s.away = true
		return false
	}
	s.Screen.Sync()
	return true
}

// hush has the screen read no more, and waits until all that it has read is taken:
// by take, or by whoever polls. What ends the reading then waits for the library's
// own goroutines, which would else wait for ever for somebody to take what was
// pasted.
func (s *suspending) hush(take func()) {
	if s.input == nil {
		return
	}
	s.input.mute()
	const quiet, glance = 50 * time.Millisecond, 5 * time.Millisecond
	for since := time.Now(); time.Since(since) < quiet; time.Sleep(glance) {
		for s.HasPendingEvent() {
			since = time.Now()
			take()
		}
	}
}
