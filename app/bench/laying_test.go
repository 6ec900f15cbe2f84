package bench_test

import (
	"context"
	"testing"

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
