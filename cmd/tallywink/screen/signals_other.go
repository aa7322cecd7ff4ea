//go:build !unix

package screen

import "os"

// StopSignals are the signals that end a session, so that the terminal is left as it was.
var StopSignals = []os.Signal{os.Interrupt}

// stopHere does nothing: there is no job control here.
func stopHere() {}
