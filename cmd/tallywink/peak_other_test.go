//go:build !linux

package main

import "os"

// peakBytes returns 0: other systems count in other units, or not at all.
func peakBytes(*os.ProcessState) int64 { return 0 }
