//go:build unix

package main

import (
	"os"
	"syscall"
)

// stopSignals end a play, so that the terminal is left as it was.
var stopSignals = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}
