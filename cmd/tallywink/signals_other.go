//go:build !unix

package main

import "os"

// stopSignals end a play, so that the terminal is left as it was.
var stopSignals = []os.Signal{os.Interrupt}

// notifyAside does nothing, like stopHere.
func notifyAside(chan<- os.Signal) {}

// stopHere does nothing: there is no job control here.
func stopHere() {}
