package pages

import (
	"syscall"
	"unsafe"
)

// hugePage is the size of a huge page on the processors where they matter; advice for
// a part of one is ignored by the system.
const hugePage = 2 << 20

// NewScratch returns room for wanted values where memory that is not touched costs
// nothing, else for least or more.
func NewScratch[T any](least, wanted int) Scratch[T] {
	size := int(unsafe.Sizeof(*new(T)))
	for _, n := range [...]int{wanted, least} {
		if n*size < hugePage {
			break // the Go heap serves small files as well
		}
		b, err := syscall.Mmap(-1, 0, n*size, syscall.PROT_READ|syscall.PROT_WRITE,
			syscall.MAP_ANON|syscall.MAP_PRIVATE|syscall.MAP_NORESERVE)
		if err != nil {
			continue
		}
		_ = syscall.Madvise(b, syscall.MADV_HUGEPAGE) // advice only: without it the work takes longer
		// What lies beyond the least is mostly never touched.
		held := int64(least * size)
		hold(held)
		return Scratch[T]{unsafe.Slice((*T)(unsafe.Pointer(unsafe.SliceData(b))), n), b, held}
	}
	return Scratch[T]{Data: make([]T, least)}
}

func unmap(b []byte) {
	if b != nil {
		_ = syscall.Munmap(b) // fails only for what was not mapped
	}
}

// Huge asks for huge pages under a slice that is about to be filled for the first time.
func Huge[T any](s []T) {
	b := unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(s))), len(s)*int(unsafe.Sizeof(*new(T))))
	if len(b) < 2*hugePage {
		return
	}
	skip := -uintptr(unsafe.Pointer(unsafe.SliceData(b))) % hugePage
	whole := (len(b) - int(skip)) / hugePage * hugePage
	_ = syscall.Madvise(b[skip:int(skip)+whole], syscall.MADV_HUGEPAGE)
}
