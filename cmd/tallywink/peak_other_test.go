//go:build !linux

package main

import "os"

// peakBytes is 0: other systems count in other units, or not.
func peakBytes(*os.ProcessState) int64 { return 0 }
