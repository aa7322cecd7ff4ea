//go:build !unix

package screen

import "github.com/gdamore/tcell/v2"

// mutable is what can't be muted here.
type mutable struct{}

func (*mutable) mute() {}

func newScreen() (*suspending, error) {
	screen, err := tcell.NewScreen()
	if err != nil {
		return nil, err
	}
	return &suspending{Screen: screen}, nil
}
