package bvh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/mesh/geom"
)

// Rays and box overlaps equal a look at all faces, and a tree built on any
// number of threads is the same tree.
func TestRaysAndOverlapsEqualBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 5))
		m := soup(r, rapid.IntRange(1, 300).Draw(t, "faces"), 0)
		tree := build(t, m, 1)
		vec := func(scale float64) geom.Vec {
			return geom.Vec{X: scale * r.NormFloat64(), Y: scale * r.NormFloat64(), Z: scale * r.NormFloat64()}
		}
		for range 30 {
			o, d := vec(150), vec(1)
			if r.IntN(3) == 0 {
				d = geom.Vec{Z: 1} // along the boxes' sides
			}
			want, wantFace, wantOK := 0.0, uint32(0), false
			for f := range m.Faces {
				a, b, c := m.Corners(uint32(f))
				if s, ok := meet(o, d, a, b, c); ok && (!wantOK || s < want) {
					want, wantFace, wantOK = s, uint32(f), true
				}
			}
			s, face, ok := tree.Ray(o, d, math.Inf(1))
			require.Equal(t, wantOK, ok)
			require.Equal(t, want, s)
			require.Equal(t, wantFace, face)
			if _, _, ok = tree.Ray(o, d, want); wantOK {
				require.True(t, ok, "the end counts")
				_, _, ok = tree.Ray(o, d, want*(1-1e-9))
				require.False(t, ok)
			}

			box := geom.BoxOf([]geom.Vec{vec(100), vec(100)})
			var in, got []uint32
			for f := range m.Faces {
				a, b, c := m.Corners(uint32(f))
				if geom.BoxOf([]geom.Vec{a, b, c}).Overlaps(box) {
					in = append(in, uint32(f))
				}
			}
			tree.FacesIn(box, func(f uint32) { got = append(got, f) })
			slices.Sort(got)
			require.Equal(t, in, got)
		}
	})
}

// A triangle made of roundings is not met, wherever the ray comes from: its determinant would put
// the point anywhere along the ray.
func TestRaysPassWhatIsSeenEdgeOn(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for range 20000 {
		vec := func(scale float64) geom.Vec {
			return geom.Vec{X: scale * r.NormFloat64(), Y: scale * r.NormFloat64(), Z: scale * r.NormFloat64()}
		}
		a, side := vec(1000), vec(100)
		o := vec(1e9)
		d := a.AddScaled(r.Float64(), side).Sub(o).Unit()
		_, ok := meet(o, d, a, a.Add(side), a.Add(side.Scale(2)))
		require.False(t, ok)
		// A proper one around the same place is, to within the roundings of the ray's own numbers.
		b, c := a.Add(vec(100)), a.Add(vec(100))
		at := a.Lerp(b, 0.3).Lerp(c, 0.3)
		n := b.Sub(a).Cross(c.Sub(a))
		d = at.Sub(o).Unit()
		if h := n.Norm2() / max(b.Sub(a).Norm2(), c.Sub(a).Norm2(), c.Sub(b).Norm2()); h < 1 || math.Abs(n.Unit().Dot(d)) < 0.1 {
			continue
		}
		s, ok := meet(o, d, a, b, c)
		require.True(t, ok)
		require.InDelta(t, at.Dist(o), s, 1e-4)
	}
}
