package seamfind_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/seamfind"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// The truth is the generator's: two hems of 1.2 mm that many mm apart, whose rolls fill the gap between the
// bins of a cut, so that a skin was followed across it on fine scans.
func TestNarrowGapsAreFound(t *testing.T) {
	for _, gap := range []float64{1, 1.2, 1.5} {
		for _, spacing := range []float64{0.4, 0.8} {
			p := bodywork.NewSeamPiece(bodywork.SeamPieceOptions{Radius: [2]float64{1.2, 1.2}, Gap: gap, Length: 120, Spacing: spacing, Noise: 0.03, Jitter: 0.3, Seed: 5})
			found := find(t, p.Mesh, false, 0)
			require.Len(t, found, 1, "gap %g mm, spacing %g mm", gap, spacing)
			require.Equal(t, "sure", found[0].SureWord(), "gap %g mm, spacing %g mm", gap, spacing)
			w, ok := found[0].MeanWidth()
			require.True(t, ok)
			require.InDelta(t, gap, w, 0.1, "gap %g mm, spacing %g mm", gap, spacing)
			require.Zero(t, found[0].Grooved)
		}
	}
}

// One sheet with a groove in it, by formula: a swage whose wall falls by 38° is no more than doubtful, one
// that falls by 74°, as the walls of a gap that a scanner closed do, is never sure.
func TestGroovesInOneSurfaceAreNotSure(t *testing.T) {
	for _, c := range []struct {
		half, deep float64 // mm
		most       float64
	}{{6, 3, seamfind.LikelyFrom}, {4, 9, seamfind.SurelyFrom}, {3, 5, seamfind.SurelyFrom}} {
		m := sheet(func(x float64) float64 {
			if math.Abs(x) > c.half {
				return 0
			}
			return -float64(c.deep / 2 * (1 + math.Cos(math.Pi*x/c.half)))
		})
		g, err := seamfind.New(context.Background(), m, 0, nil)
		require.NoError(t, err)
		found, err := g.Find(context.Background(), seamfind.Settings{}, nil)
		require.NoError(t, err)
		require.Len(t, found, 1, "%g mm deep", c.deep)
		require.Less(t, found[0].Sure, c.most, "%g mm deep", c.deep)
		require.Greater(t, found[0].Grooved, 0.9, "%g mm deep", c.deep)
	}
}

// sheet is 160 by 200 mm of a surface whose height, mm, hangs on x alone, 0.5 mm between its points.
func sheet(height func(x float64) float64) *mesh.Mesh {
	const nx, ny, step = 320, 400, 0.5
	m := &mesh.Mesh{}
	for j := range ny + 1 {
		for i := range nx + 1 {
			x := (float64(i) - nx/2) * step
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: float64(j) * step, Z: height(x)})
		}
	}
	for j := range uint32(ny) {
		for i := range uint32(nx) {
			k := j*(nx+1) + i
			m.Faces = append(m.Faces, [3]uint32{k, k + 1, k + nx + 2}, [3]uint32{k, k + nx + 2, k + nx + 1})
		}
	}
	return m
}
