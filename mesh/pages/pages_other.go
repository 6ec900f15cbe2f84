//go:build !linux

package pages

// NewScratch returns room for least values on the Go heap.
func NewScratch[T any](least, _ int) Scratch[T] { return Scratch[T]{Data: make([]T, least)} }

func unmap([]byte) {}

func Huge[T any]([]T) {}
