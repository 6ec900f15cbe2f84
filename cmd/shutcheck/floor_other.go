//go:build !linux

package main

import "io"

// exitSystem is EX_OSERR of sysexits.h.
const exitSystem = 71

// tooFewAddresses is for systems that limit addresses.
func tooFewAddresses(io.Writer) bool { return false }
