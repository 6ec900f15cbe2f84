package main

import (
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// drawingTime returns how long the drawing thread has been at work; it is the process's first, whose number is the process's.
// How a thread's clock is numbered is in Linux's include/linux/posix-timers.h.
func drawingTime() time.Duration {
	const perThread, scheduled = 4, 2
	var t unix.Timespec
	if unix.ClockGettime(int32(^os.Getpid()<<3|perThread|scheduled), &t) != nil {
		return 0
	}
	return time.Duration(t.Nano())
}
