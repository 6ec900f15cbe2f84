//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package bench

import (
	"os"
	"syscall"
)

// lock locks a file for this program until it is closed or the program ends; an
// error says that another one holds it.
func lock(f *os.File) error {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
}
