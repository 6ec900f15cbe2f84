package bench

import (
	"os"
	"syscall"
	"unsafe"
)

var lockFileEx = syscall.NewLazyDLL("kernel32.dll").NewProc("LockFileEx")

// lock locks a file for this program until it is closed or the program ends; an
// error says that another one holds it. The byte that is locked lies behind
// everything that is written, so that others may read (Windows: LockFileEx).
func lock(f *os.File) error {
	const exclusive, failAtOnce = 2, 1
	at := syscall.Overlapped{Offset: 0xfffffff0}
	if ok, _, err := lockFileEx.Call(f.Fd(), exclusive|failAtOnce, 0, 1, 0, uintptr(unsafe.Pointer(&at))); ok == 0 {
		return err
	}
	return nil
}
