//go:build unix

package main

import (
	"os"
	"syscall"
)

// stopSignals end a play, so that the terminal is left as it was.
var stopSignals = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}

// stopHere stops the program until it is continued, as Ctrl-Z does in a shell.
func stopHere() {
	// Where it can't be stopped it goes on.
	_ = syscall.Kill(syscall.Getpid(), syscall.SIGSTOP)
}
