package bench_test

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
)

// What was read ahead is taken once, and only for the same file; everything else is read as always.
func TestReadAhead(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name  string
		asked inspection.Inspection
		fails bool
		loads int // two calls for parts
	}{
		{"the same", inspection.Inspection{Path: "van.toml", SHA256: "1"}, false, 2},
		{"another file", inspection.Inspection{Path: "car.toml", SHA256: "1"}, false, 3},
		{"changed meanwhile", inspection.Inspection{Path: "van.toml", SHA256: "2"}, false, 3},
		{"nothing could be read", inspection.Inspection{Path: "van.toml", SHA256: "1"}, true, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t)
			r.job.Path, r.job.SHA256 = "van.toml", "1"
			if c.fails {
				r.errs["load"], r.once = errors.New("no"), true
			}
			begun := make(chan struct{}, 10)
			s := r.services()
			load := s.LoadParts
			s.LoadParts = func(ctx context.Context, i *inspection.Inspection, set app.Settings, p app.Progress) (*app.Parts, error) {
				defer func() { begun <- struct{}{} }()
				return load(ctx, i, set, p)
			}
			s = s.Ahead("van.toml")
			<-begun
			quiet := func(string, float64) {}
			asked := c.asked
			asked.Scan.File = "scan.stl"
			one, err := s.LoadParts(ctx, &asked, app.Settings{}, quiet)
			require.NoError(t, err)
			two, err := s.LoadParts(ctx, &asked, app.Settings{}, quiet)
			require.NoError(t, err)
			require.NotSame(t, one, two)
			n := 0
			for _, call := range r.called() {
				if call == "load" {
					n++
				}
			}
			require.Equal(t, c.loads, n)
		})
	}
}

// Meshes named by themselves are left alone, and stopping does not wait for what is read ahead.
func TestReadAheadHoldsNothingUp(t *testing.T) {
	r := newRig(t)
	r.services().Ahead("scan.stl")
	require.Empty(t, r.called())
	r.job.Path, r.job.SHA256 = "van.toml", "1"
	r.stuck["load"] = true
	s := r.services().Ahead("van.toml")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := s.LoadParts(ctx, r.job, app.Settings{}, func(string, float64) {})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, "load", <-r.ended)
}
