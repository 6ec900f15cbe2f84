package ui

import (
	"runtime/debug"

	"shutline/app"
)

// worker runs work off the drawing thread.
type worker struct {
	post   func(func()) // runs something on the drawing thread
	failed func(error)  // says what went wrong, on the drawing thread
}

// aside runs work on a goroutine of its own. A panic of the work is said, and the window stays.
func (k worker) aside(work func()) {
	go func() {
		defer k.caught()
		work()
	}()
}

// caught is deferred where a panic must not go further.
func (k worker) caught() {
	if fault := recover(); fault != nil {
		err := &app.FaultError{What: fault, Stack: debug.Stack()}
		k.post(func() { k.failed(err) })
	}
}
