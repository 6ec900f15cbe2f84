package ui

import (
	"context"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// While a seam is measured anew, its figures are said to be those of before.
func TestFiguresOfBeforeAreSaidToBe(t *testing.T) {
	r := &rig{t: t, queue: make(chan func(), 10000), trust: &app.Trust{}}
	s := r.services()
	measure := s.MeasureSeam
	var holding atomic.Bool
	hold := make(chan struct{})
	s.MeasureSeam = func(ctx context.Context, i *inspection.Inspection, seam gapflush.Seam, parts *app.Parts, placed *app.Placed, set app.Settings, p app.Progress) (*gapflush.Result, error) {
		if holding.Load() {
			p("measuring", 0.1)
			select {
			case <-hold:
			case <-ctx.Done():
				return nil, ctx.Err()
			}
		}
		return measure(ctx, i, seam, parts, placed, set, p)
	}
	r.over(s)
	r.open()
	r.bench.Show(bench.Seams)
	r.idle()
	const before = "figures from before"
	require.NotContains(t, r.texts(r.card.content), before)
	holding.Store(true)
	r.bench.Edit("step", func(i *inspection.Inspection) { i.Seams[0].Every = 10 })
	r.pump("the seam to be measured", func() bool { return r.bench.Lamp(bench.Seams) == bench.Working })
	r.drain()
	require.Contains(t, r.texts(r.card.answer), before, "under its headline, while it is measured")
	r.bench.SelectSeam(1)
	require.NotContains(t, r.texts(r.card.content), before, "the other seam holds")
	r.bench.SelectSeam(0)
	require.Contains(t, r.texts(r.card.content), before)
	close(hold)
	r.idle()
	require.NotContains(t, r.texts(r.card.content), before)
}
