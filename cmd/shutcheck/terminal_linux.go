package main

import (
	"os"

	"golang.org/x/sys/unix"
)

// isTerminal reports whether a file is a terminal; /dev/null is none.
func isTerminal(f *os.File) bool {
	_, err := unix.IoctlGetTermios(int(f.Fd()), unix.TCGETS)
	return err == nil
}
