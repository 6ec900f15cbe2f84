package evidence

import (
	"context"
	"io"
)

// soon returns what work returns, or ctx's error as soon as that is done: what cannot be told to stop, the drawing of one
// picture, then comes to its end by itself and is dropped. work may change nothing that others use.
func soon[T any](ctx context.Context, work func() T) (T, error) {
	type made struct {
		value T
		fault any
	}
	done := make(chan made, 1) // room for what nobody may wait for any more
	go func() {
		var m made
		defer func() {
			m.fault = recover()
			done <- m
		}()
		m.value = work()
	}()
	select {
	case m := <-done:
		if m.fault != nil {
			panic(m.fault)
		}
		return m.value, ctx.Err()
	case <-ctx.Done():
		var none T
		return none, ctx.Err()
	}
}

// stopping is a file that takes nothing more once its context is done.
type stopping struct {
	io.Writer
	ctx context.Context
}

func (s stopping) Write(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Writer.Write(b)
}
