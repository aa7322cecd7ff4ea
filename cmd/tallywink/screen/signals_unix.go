//go:build unix

package screen

import (
	"os"
	"os/signal"
	"syscall"
)

// StopSignals are the signals that end a session, so that the terminal is left as it was.
var StopSignals = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT}

// stopHere stops the program until it is continued, as Ctrl-Z does in a shell.
func stopHere() {
	continued := make(chan os.Signal, 1)
	signal.Notify(continued, syscall.SIGCONT)
	defer signal.Stop(continued)
	// The signal stops one thread after the other: without waiting, what comes next might
	// run before the stop.
	if syscall.Kill(syscall.Getpid(), syscall.SIGSTOP) == nil {
		<-continued
	}
}
