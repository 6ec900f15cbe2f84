package pieces

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// Six pieces round a closed body make one skin: one part with its two rims and nothing else open, less area than the
// pieces together, and not farther from the formula than they are.
func TestJoinedMeshIsOneSkin(t *testing.T) {
	ctx := context.Background()
	const noise = 0.03
	all, _ := ring{8}.loop(6, 0.05, noise, 3)
	r, err := Join(ctx, all, nil, nil, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	j, err := r.Mesh(ctx, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	h, err := mesh.Health(ctx, j.Mesh)
	require.NoError(t, err)
	require.Equal(t, 1, h.Components)
	require.Zero(t, h.BranchingEdges)
	require.Zero(t, h.FlippedEdges)
	require.Zero(t, h.DuplicateFaces)
	require.Len(t, h.BorderLoops, 2)
	require.Len(t, j.Seams, 6)
	for _, s := range j.Seams {
		require.InDelta(t, ringHeight, s.Length, 0.1*ringHeight)
		require.Less(t, s.StepMost, 6*noise, "two skins with noise each")
		require.Positive(t, s.StepMedian)
		require.Less(t, s.Left, s.StepMost)
		require.Less(t, s.Open, 8.0, "an edge of the rim at most")
	}
	whole := ring{4}.piece(0, 1, 0, 99)
	area := whole.Area()
	require.InDelta(t, area, j.Area, 0.01*area)
	require.Greater(t, j.Covered, 1.2*area)

	s, err := surface.New(ctx, whole, 2, nil)
	require.NoError(t, err)
	// The joined frame is that of the first piece as thrown off: find the way back by its own vertices.
	clean, _ := ring{8}.loop(6, 0.05, 0, 3)
	flat := ring{8}.piece(0, 1.0/6+0.05, 0, 300)
	back := carry(clean[0].Mesh.Vertices, flat.Vertices)
	find := s.NewFinder()
	off := func(points []geom.Vec, move geom.Rigid) float64 {
		sum := 0.0
		for _, p := range points {
			hit, ok := find.Closest(move.Apply(p), 5)
			require.True(t, ok)
			sum += hit.Distance * hit.Distance
		}
		return math.Sqrt(sum / float64(len(points)))
	}
	pieces := 0.0
	for k, p := range r.Pieces {
		e := off(all[k].Mesh.Vertices, back.After(p.JoinedFromPiece))
		pieces += e * e / 6
	}
	require.Less(t, off(j.Mesh.Vertices, back), 1.05*math.Sqrt(pieces), "blending adds no error to that of the pieces as they lie")

	one, err := r.Mesh(ctx, Settings{Threads: 1}, nil)
	require.NoError(t, err)
	require.Equal(t, j, one, "the same bits for any number of threads")
}

// carry returns the motion between two numberings of the same rigid points, from three of them.
func carry(from, to []geom.Vec) geom.Rigid {
	frame := func(p []geom.Vec) geom.Rigid {
		a, b, c := p[0], p[len(p)-1], p[len(p)/2]
		x := b.Sub(a).Unit()
		z := x.Cross(c.Sub(a)).Unit()
		y := z.Cross(x)
		return geom.Rigid{R: geom.Mat3{{x.X, y.X, z.X}, {x.Y, y.Y, z.Y}, {x.Z, y.Z, z.Z}}, T: a}
	}
	return frame(to).After(frame(from).Inverse())
}

// A step between pieces of different shape is measured, not hidden.
func TestStepIsReported(t *testing.T) {
	ctx := context.Background()
	a := skin(0.02, 0, 1)
	cut := func(m *mesh.Mesh, lo, hi float64) *mesh.Mesh {
		return bodywork.Without(m, func(c geom.Vec) bool { return c.X < lo || c.X > hi })
	}
	// The second piece carries a ramp over the overlap: half a millimetre higher where it lies over the first's end.
	b := bodywork.Mapped(skin(0.02, 0, 2), func(p geom.Vec) geom.Vec {
		s, _ := geom.Sincos(p.Y / 60)
		p.Z += 0.5 * s
		return p
	})
	r, err := Join(ctx, []Piece{{"left", cut(a, 0, 450)}, {"right", cut(b, 250, 700)}}, nil, nil, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	require.Equal(t, DifferentShape, r.Overlaps[0].Shape)
	j, err := r.Mesh(ctx, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	require.Len(t, j.Seams, 1)
	require.Greater(t, j.Seams[0].StepMost, 0.3)
	require.Less(t, j.Seams[0].Left, 0.15)
	require.InDelta(t, 350, j.Seams[0].At.X, 30, "half way between the two ends")
	h, err := mesh.Health(ctx, j.Mesh)
	require.NoError(t, err)
	require.Equal(t, 1, h.Components)
	require.Len(t, h.BorderLoops, 1)
}
