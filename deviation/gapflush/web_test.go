package gapflush_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// A coarse scan with a web across part of the gap must not give a number far
// from the truth: fitted edges that run through one another are no edges.
func TestCoarseWebsGiveNoWrongGap(t *testing.T) {
	ctx := context.Background()
	for _, seed := range []uint64{1, 2, 3} {
		job, err := bodywork.Van(ctx, bodywork.Options{Size: 60_000, Seed: seed}, nil)
		require.NoError(t, err)
		truth, err := job.ScanStations(ctx, nil)
		require.NoError(t, err)
		spec := job.Seams[1]
		seam := gapflush.DefaultSeam(spec.Name, spec.Path)
		seam.Master = gapflush.Side(spec.Master)
		r, err := gapflush.Measure(ctx, job.Scan.Moved(job.ReferenceFromScan), job.Reference, seam, gapflush.Settings{}, nil)
		require.NoError(t, err)
		for _, want := range truth {
			if want.Seam != spec.Name {
				continue
			}
			st := r.Stations[want.Index-1]
			if st.Gap.OK {
				require.LessOrEqual(t, math.Abs(st.Gap.V-want.Gap), 3*st.Gap.U, "seed %d, station %d, state by truth %s", seed, st.Index, want.State)
			}
		}
	}
}
