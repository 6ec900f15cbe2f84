//go:build !linux

package main

import "time"

// drawingTime returns how long the drawing thread has been at work; 0: unknown.
func drawingTime() time.Duration { return 0 }
