package main

import (
	"errors"
	"fmt"
	"io"
	"syscall"

	"shutline/deviation/evidence"
)

// output writes to standard output and keeps the first failure. A reader that
// has closed the pipe has seen enough: that is no failure.
type output struct {
	w   io.Writer
	err error
}

func (o *output) line(format string, args ...any) { o.text(fmt.Sprintf(format, args...) + "\n") }

func (o *output) text(s string) {
	if o.err == nil {
		_, o.err = io.WriteString(o.w, s)
	}
}

func (o *output) failure() error {
	if o.err == nil || errors.Is(o.err, syscall.EPIPE) || errors.Is(o.err, io.ErrClosedPipe) {
		return nil
	}
	return &evidence.WriteError{Path: "standard output", Problem: "cannot be written: " + o.err.Error(), Err: o.err}
}
