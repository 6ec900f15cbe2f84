package app_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// The van, scanned with noise and placed by best fit: what its formula says the
// deviation of every point is without its noise lies within U of what was measured in 93 to
// 99 % of them (k = 2: 95.4 %), whatever the noise and the size; the wrong wing and the dent included.
func TestUHoldsTheVansTruth(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		seed  uint64
		noise float64
	}{{3, 0.08}, {9, 0.03}, {12, 0.015}} {
		o := bodywork.Options{Size: 60_000, Seed: c.seed, Noise: c.noise, Threads: 2}
		van, err := bodywork.Van(ctx, o, nil)
		require.NoError(t, err)
		o.Noise = -1
		quiet, err := bodywork.Van(ctx, o, nil)
		require.NoError(t, err)
		require.Len(t, quiet.Scan.Vertices, len(van.Scan.Vertices), "the same points")
		truth, err := quiet.Surface(ctx, nil)
		require.NoError(t, err)
		s, err := surface.New(ctx, van.Reference, 2, nil)
		require.NoError(t, err)
		i := inspection.Default("scan.stl", "reference.stl")
		i.Scan.Noise = c.noise
		parts := &app.Parts{Scan: &meshio.Loaded{Mesh: van.Scan}, Mirrored: van.Reference, Surface: s, ScanAreas: van.Scan.VertexAreas()}
		placed, err := app.Place(ctx, i, parts, app.Settings{Threads: 2}, nil)
		require.NoError(t, err)
		found, err := app.Compare(ctx, i, parts, placed, app.Settings{Threads: 2}, nil)
		require.NoError(t, err)
		in, all := 0, 0
		for k, v := range truth {
			d, hasU := found.Field.Value(k)
			if !hasU || !v.Measured || !v.Clear || van.Origins[k].Part.Foreign() {
				continue
			}
			all++
			if math.Abs(d.V-v.Deviation) <= d.U {
				in++
			}
		}
		share := float64(in) / float64(all)
		t.Logf("noise %v: %.2f %% of %d points", c.noise, 100*share, all)
		require.Greater(t, all, 25_000)
		require.GreaterOrEqual(t, share, 0.93)
		require.LessOrEqual(t, share, 0.99)
	}
}
