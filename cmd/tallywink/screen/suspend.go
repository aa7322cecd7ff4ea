package screen

import (
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"
)

// suspending is a screen that Ctrl-Z suspends, if the system supports that, and fg
// resumes; it can be left even while someone pastes into it.
type suspending struct {
	tcell.Screen
	input *mutable   // its input; nil if that can't be muted
	aside sync.Mutex // held while the screen is suspended, so that nothing is drawn
	gone  bool       // it is being left, and must not be suspended any more
	away  bool       // it was suspended, and the terminal did not come back
}

// Show draws what has changed, after waiting until the screen is there.
func (s *suspending) Show() {
	s.aside.Lock()
	defer s.aside.Unlock()
	if !s.away { // otherwise the library would draw forever
		s.Screen.Show()
	}
}

// Sync redraws everything, after waiting until the screen is there.
func (s *suspending) Sync() {
	s.aside.Lock()
	defer s.aside.Unlock()
	if !s.away {
		s.Screen.Sync()
	}
}

// PollEvent waits for the next event other than Ctrl-Z, which it handles itself; it
// returns nil at the end, and if the terminal did not come back.
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

// putAside stops the program until it is continued, and reports whether the terminal is
// back.
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
	stopHere()
	if s.Resume() != nil {
		s.away = true
		return false
	}
	s.Screen.Sync()
	return true
}

// hush makes the screen stop reading, and waits until everything it has read has been
// taken: by take, or by whoever polls. Otherwise, ending the input would wait for the
// library's own goroutines, which would wait forever for someone to take what was pasted.
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
