package main

import (
	"fmt"
	"io"
	"syscall"
)

// leastAddresses, bytes, is what a limit on addresses has to leave: Go's runtime reserves some 1.3 GB of them at its start, mostly
// without ever using them, and small jobs were seen to end in its dump up to 1.6 GB.
const leastAddresses = 2_000_000_000

// exitSystem is EX_OSERR of sysexits.h.
const exitSystem = 71

// tooFewAddresses says so, and returns true, where the system limits addresses below the floor. What the runtime itself did not
// survive is said before it, where the program was linked for that (entry_linux_amd64.s).
func tooFewAddresses(to io.Writer) bool {
	var limit syscall.Rlimit
	if syscall.Getrlimit(syscall.RLIMIT_AS, &limit) != nil || limit.Cur >= leastAddresses {
		return false
	}
	fmt.Fprintf(to, "shutcheck: addresses are limited to %d MB (ulimit -v), and it does not start with less than %d MB, most of which stay unused: take the limit away with ulimit -v unlimited, or raise it\n",
		limit.Cur/1e6, uint64(leastAddresses/1e6))
	return true
}
