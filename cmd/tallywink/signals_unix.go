//go:build unix

package main

import (
	"os"
	"os/signal"
	"syscall"
)

// stopSignals end a play, so that the terminal is left as it was.
var stopSignals = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT}

// notifyAside has Ctrl-Z told of, which would stop the program at once.
func notifyAside(c chan<- os.Signal) { signal.Notify(c, syscall.SIGTSTP) }

// stopHere stops the program until it is continued, as Ctrl-Z does in a shell.
func stopHere() {
	continued := make(chan os.Signal, 1)
	signal.Notify(continued, syscall.SIGCONT)
	defer signal.Stop(continued)
	// The signal stops one thread after the other: without waiting, what comes next
	// might be done before.
	if syscall.Kill(syscall.Getpid(), syscall.SIGSTOP) == nil {
		<-continued
	}
}
