//go:build !unix

package screen

import "github.com/gdamore/tcell/v2"

// mutable is empty: input can't be muted on this system.
type mutable struct{}

func (*mutable) mute() {}

func newScreen() (*suspending, error) {
	screen, err := tcell.NewScreen()
	if err != nil {
		return nil, err
	}
	return &suspending{Screen: screen}, nil
}
