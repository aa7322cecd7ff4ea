package main

import "github.com/gdamore/tcell/v2"

// suspending is a screen that Ctrl-Z puts aside, where the system has that,
// and fg brings back.
type suspending struct{ tcell.Screen }

// PollEvent waits for the next event but Ctrl-Z, which never reaches the
// screen's program.
func (s suspending) PollEvent() tcell.Event {
	for {
		e := s.Screen.PollEvent()
		if key, ok := e.(*tcell.EventKey); !ok || key.Key() != tcell.KeyCtrlZ {
			return e
		}
		if s.Suspend() != nil {
			continue
		}
		stopHere()
		if s.Resume() == nil {
			s.Sync()
		}
	}
}
