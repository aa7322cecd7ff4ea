package main

import (
	"sync"

	"github.com/gdamore/tcell/v2"
)

// suspending is a screen that Ctrl-Z puts aside, where the system has that,
// and fg brings back.
type suspending struct {
	tcell.Screen
	aside sync.Mutex // held while the screen is put aside: nothing is drawn then
}

// Show draws what has changed, once the screen is there.
func (s *suspending) Show() {
	s.aside.Lock()
	defer s.aside.Unlock()
	s.Screen.Show()
}

// Sync draws everything anew, once the screen is there.
func (s *suspending) Sync() {
	s.aside.Lock()
	defer s.aside.Unlock()
	s.Screen.Sync()
}

// PollEvent waits for the next event but Ctrl-Z, which never reaches the
// screen's program.
func (s *suspending) PollEvent() tcell.Event {
	for {
		e := s.Screen.PollEvent()
		if key, ok := e.(*tcell.EventKey); !ok || key.Key() != tcell.KeyCtrlZ {
			return e
		}
		s.putAside()
	}
}

func (s *suspending) putAside() {
	s.aside.Lock()
	defer s.aside.Unlock()
	if s.Suspend() != nil {
		return
	}
	stopHere()
	if s.Resume() == nil {
		s.Screen.Sync()
	}
}
