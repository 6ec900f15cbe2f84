package gapflush_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Where a character line crosses a seam, not quite square to it, the skin has a
// corner of 0.2 within the band that lies elsewhere on either side. Stations 5 mm
// apart, by the van's formula, for the scan and for the nominals of the reference,
// which is a mesh with chords of its own.
func TestCharacterLine(t *testing.T) {
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: 300_000, Seed: 1}, nil)
	require.NoError(t, err)
	placed := job.Scan.Moved(job.ReferenceFromScan)
	n, inside := 0, 0
	for _, spec := range job.Seams {
		var path []geom.Vec
		for _, p := range spec.Path {
			// The line lies about z = 560 + 0.03 (x - 1200) (the van's drawing).
			if math.Abs(p.Z-560-0.03*(p.X-1200)) < 80 {
				path = append(path, p)
			}
		}
		spec.Path = path
		seam := gapflush.DefaultSeam(spec.Name, path)
		seam.Master, seam.Every = gapflush.Side(spec.Master), 5
		r, err := gapflush.Measure(ctx, placed, job.Reference, seam, gapflush.Settings{}, nil)
		require.NoError(t, err)
		truth, drawn := job.StationsAt(spec, 5), job.ReferenceStationsAt(spec, 5)
		require.Greater(t, len(r.Stations), 10)
		for i, st := range r.Stations {
			require.InDelta(t, drawn[i].Flush, st.FlushNominal.V, 0.03, "%s, station %d", spec.Name, st.Index)
			require.InDelta(t, drawn[i].Gap, st.GapNominal.V, 0.01, "%s, station %d", spec.Name, st.Index)
			if !st.Flush.OK {
				continue
			}
			n++
			e := math.Abs(st.Flush.V - truth[i].Flush)
			require.LessOrEqual(t, e, 2*st.Flush.U)
			if e <= st.Flush.U {
				inside++
			}
		}
	}
	require.Greater(t, n, 20)
	require.GreaterOrEqual(t, float64(inside), 0.9*float64(n))
}
