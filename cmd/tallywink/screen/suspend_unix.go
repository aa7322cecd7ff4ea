//go:build unix

package screen

import (
	"sync/atomic"

	"github.com/gdamore/tcell/v2"
)

// mutable is a terminal whose input can be discarded.
type mutable struct {
	tcell.Tty
	muted atomic.Bool
}

// Read reads from the terminal, and returns nothing while it is muted.
func (m *mutable) Read(p []byte) (int, error) {
	n, err := m.Tty.Read(p)
	if err == nil && m.muted.Load() {
		return 0, nil
	}
	return n, err
}

// Start starts reading, unmuted.
func (m *mutable) Start() error {
	m.muted.Store(false)
	return m.Tty.Start()
}

func (m *mutable) mute() { m.muted.Store(true) }

func newScreen() (*suspending, error) {
	tty, err := tcell.NewDevTty()
	if err != nil {
		return nil, err
	}
	input := &mutable{Tty: tty}
	screen, err := tcell.NewTerminfoScreenFromTty(input)
	if err != nil {
		return nil, err
	}
	return &suspending{Screen: screen, input: input}, nil
}
