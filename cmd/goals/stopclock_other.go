//go:build !unix

package main

import "time"

// processorTime returns how long the processors have worked for this program; 0: unknown.
func processorTime() time.Duration { return 0 }
