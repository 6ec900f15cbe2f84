package bench_test

import (
	"context"
	"testing"
	"weak"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// A job whose seams are to be found becomes one whose seams have paths, clean until it is changed.
func TestSeamsToBeFoundGetTheirPathsBeforeTheyAreMeasured(t *testing.T) {
	r := newRig(t)
	r.job.Seams, r.job.SeamPictures = []gapflush.Seam{gapflush.DefaultSeam("found", nil)}, []string{"worst"}
	r.job.SeamLaying = []inspection.Laying{inspection.Found}
	services := r.services()
	services.LaySeams = func(ctx context.Context, i *inspection.Inspection, _ *app.Parts, _ *app.Placed, _ app.Settings, _ app.Progress) (*inspection.Inspection, []app.SeamPath, error) {
		laid := *i
		laid.SeamLaying, laid.Seams, laid.SeamPictures = nil, nil, nil
		for _, name := range []string{"left", "right"} {
			laid.Seams = append(laid.Seams, gapflush.DefaultSeam(name, []geom.Vec{{}, {Z: 100}}))
			laid.SeamPictures = append(laid.SeamPictures, "worst")
		}
		return &laid, []app.SeamPath{{Seam: "left"}, {Seam: "right"}}, r.call(ctx, "lay")
	}
	r.bench = bench.New(services, func(f func()) { r.queue <- f })
	r.open()
	require.Equal(t, []string{"read", "load", "place", "compare", "lay", "left", "right"}, r.taken())
	require.True(t, r.bench.Complete())
	require.False(t, r.bench.Dirty())
	require.Len(t, r.bench.Results(), 2)
	require.Len(t, r.bench.Outcome().Paths, 2)
	require.Equal(t, "left", r.bench.Job().Seams[0].Name)
	r.bench.Edit("every", func(i *inspection.Inspection) { i.Seams[1].Every = 10 })
	r.settle()
	require.Equal(t, []string{"right"}, r.taken(), "paths are not laid again")
}

// A stretch that is changed by itself is measured as the seam of its own that saving makes of it; taking the change back brings the whole back.
func TestAChangedStretchIsASeamOfItsOwn(t *testing.T) {
	r := newRig(t)
	whole := gapflush.DefaultSeam("wing to door", []geom.Vec{{}, {Z: 100}})
	r.job.Seams, r.job.SeamPictures = []gapflush.Seam{whole}, []string{"worst"}
	r.job.Stretches = []inspection.Stretch{{Seam: whole.Name, From: 40, To: 100}}
	services := r.services()
	services.LaySeams = func(_ context.Context, i *inspection.Inspection, _ *app.Parts, placed *app.Placed, _ app.Settings, _ app.Progress) (*inspection.Inspection, []app.SeamPath, error) {
		made := *i
		made.Seams, made.SeamPictures, made.Stretches = nil, nil, nil
		for k, end := range []float64{40, 100} {
			s := gapflush.DefaultSeam([]string{"wing to door, 0 to 40 mm", "wing to door, 40 to 100 mm"}[k], []geom.Vec{{Z: 40 * float64(k)}, {Z: end}})
			s.Whole, s.From, s.Before = whole.Name, 40*float64(k), 2*k
			made.Seams, made.SeamPictures = append(made.Seams, s), append(made.SeamPictures, "worst")
		}
		laid := made
		laid.Laid = &inspection.Laid{File: i, Made: &made, Of: []int{0, 0}, Whole: []app.SeamPath{{Seam: whole.Name, Path: whole.Path}}, Paths: make([]app.SeamPath, 2), On: weak.Make(placed.Mesh)}
		return &laid, laid.Laid.Paths, nil
	}
	r.bench = bench.New(services, func(f func()) { r.queue <- f })
	r.open()
	told := func() (list []string) {
		for _, s := range r.bench.Job().Seams {
			list = append(list, s.Whole)
		}
		return list
	}
	require.Equal(t, []string{whole.Name, whole.Name}, told())
	r.taken()
	r.bench.Edit("every", func(i *inspection.Inspection) { i.Seams[1].Every = 10 })
	r.settle()
	require.Equal(t, []string{"", ""}, told())
	require.Zero(t, r.bench.Job().Seams[1].From)
	require.Equal(t, []string{"wing to door, 0 to 40 mm", "wing to door, 40 to 100 mm"}, r.taken(), "its neighbour's stations are counted anew too")
	r.bench.Undo()
	require.Equal(t, []string{whole.Name, whole.Name}, told())
}
