//go:build unix

package main

import (
	"time"

	"golang.org/x/sys/unix"
)

// processorTime returns how long the processors have worked for this program.
func processorTime() time.Duration {
	var u unix.Rusage
	if unix.Getrusage(unix.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
