package main

import (
	"context"
	"os/signal"
	"sync"

	"github.com/gdamore/tcell/v2"
)

// onScreen runs a screen, and leaves the terminal as it was.
func onScreen[T any](run func(ctx context.Context, s tcell.Screen) T) (T, error) {
	screen, err := tcell.NewScreen()
	if err == nil {
		err = screen.Init()
	}
	if err != nil {
		var none T
		return none, misuse("run it in a terminal", "this needs a terminal: %v", err)
	}
	defer screen.Fini()
	ctx, stop := signal.NotifyContext(context.Background(), stopSignals...)
	defer stop()
	return run(ctx, &suspending{Screen: screen}), nil
}

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
