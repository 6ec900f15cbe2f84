//go:build !linux

package meshio

// newScratch returns room for least values on the Go heap.
func newScratch[T any](least, _ int) scratch[T] { return scratch[T]{data: make([]T, least)} }

func unmap([]byte) {}

func adviseHuge[T any]([]T) {}
