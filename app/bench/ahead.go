package bench

import (
	"context"
	"path/filepath"
	"strings"
	"sync/atomic"

	"shutline/app"
	"shutline/app/inspection"
)

// ahead reads the parts of an inspection file before anybody asks for them.
type ahead struct {
	done   chan struct{}
	cancel context.CancelFunc
	job    *inspection.Inspection
	parts  *app.Parts // nil: nothing could be read
	to     atomic.Pointer[app.Progress]
}

// Ahead begins to read an inspection file and its meshes, and returns services whose first LoadParts, when it is asked for the same, takes
// what was read: a window takes its time to open, in which the processors have little to do. What
// cannot be read is tried again then, and said as always. A file that is no inspection is left alone.
func (s Services) Ahead(path string) Services {
	if !strings.EqualFold(filepath.Ext(path), ".toml") {
		return s
	}
	ctx, cancel := context.WithCancel(context.Background())
	a := &ahead{done: make(chan struct{}), cancel: cancel}
	load, read := s.LoadParts, s.Read
	go func() {
		defer close(a.done)
		defer func() { _ = recover() }() // a fault comes again, where it is said
		job, err := read(path)
		if err != nil {
			return
		}
		if parts, err := load(ctx, job, app.Settings{}, a.report); err == nil {
			a.job, a.parts = job, parts
		}
	}()
	var used atomic.Bool
	s.LoadParts = func(ctx context.Context, i *inspection.Inspection, set app.Settings, p app.Progress) (*app.Parts, error) {
		if !used.Swap(true) {
			defer cancel()
			if parts := a.take(ctx, path, i, p); parts != nil {
				return parts, nil
			}
		}
		return load(ctx, i, set, p)
	}
	return s
}

// report passes progress on to who waits.
func (a *ahead) report(what string, share float64) {
	if p := a.to.Load(); p != nil {
		(*p)(what, share)
	}
}

// take returns the parts of the inspection where they are those being read, once they are; else nil.
func (a *ahead) take(ctx context.Context, path string, i *inspection.Inspection, p app.Progress) *app.Parts {
	if i.Path != path || i.SHA256 == "" {
		return nil
	}
	if p != nil {
		a.to.Store(&p)
	}
	select {
	case <-a.done:
	case <-ctx.Done():
		return nil
	}
	a.to.Store(nil)
	parts := a.parts
	a.parts = nil
	if parts == nil || a.job.SHA256 != i.SHA256 {
		return nil
	}
	return parts
}
