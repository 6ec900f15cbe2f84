//go:build !linux && !darwin

package main

import "os"

// isTerminal is false where it is not known how a console rewrites a line: nothing is drawn then.
func isTerminal(*os.File) bool { return false }
