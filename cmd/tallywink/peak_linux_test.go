package main

import (
	"os"
	"syscall"
)

// peakBytes returns the most memory that a process has used.
func peakBytes(p *os.ProcessState) int64 {
	usage, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	return usage.Maxrss << 10 // Linux counts in kilobytes
}
