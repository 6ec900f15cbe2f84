package bvh

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/mesh"
	"shutline/mesh/geom"
)

func build(t require.TestingT, m *mesh.Mesh, threads int) *Tree {
	tree, err := Build(context.Background(), m, threads, nil)
	require.NoError(t, err)
	return tree
}

// soup returns triangles of mixed sizes, some degenerate, some repeated.
func soup(r *rand.Rand, n int, offset float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	point := func(scale float64) geom.Vec {
		return geom.Vec{X: scale * r.NormFloat64(), Y: scale * r.NormFloat64(), Z: scale * r.NormFloat64()}
	}
	for range n {
		c, size := point(100).Add(geom.Vec{X: offset, Y: -offset}), math.Exp(3*r.NormFloat64())
		k := uint32(len(m.Vertices))
		m.Vertices = append(m.Vertices, c.Add(point(size)), c.Add(point(size)), c.Add(point(size)))
		f := [3]uint32{k, k + 1, k + 2}
		switch r.IntN(10) {
		case 0:
			f[1] = f[0]
		case 1:
			m.Faces = append(m.Faces, f)
		}
		m.Faces = append(m.Faces, f)
	}
	return m
}

// brute is the definition: the closest face by the same arithmetic, the lowest of equals.
func brute(m *mesh.Mesh, p geom.Vec, within float64, facing *Facing) (Answer, bool) {
	best, found := Answer{Dist2: within * within}, false
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		if facing != nil && !(m.AreaNormal(uint32(f)).Unit().Dot(facing.Dir) >= facing.MinCos) {
			continue
		}
		q, feature := geom.ClosestOnTriangle(p, a, b, c)
		if d := q.Sub(p).Norm2(); d < best.Dist2 || !found && d <= best.Dist2 {
			best, found = Answer{q, d, uint32(f), feature}, true
		}
	}
	return best, found
}

// Every answer equals a look at all faces to the last bit, whatever was asked
// before, with vector kernels and without.
func TestClosestEqualsBruteForce(t *testing.T) {
	was := vector
	defer func() { vector = was }()
	rapid.Check(t, func(t *rapid.T) {
		vector = was && rapid.Bool().Draw(t, "vector")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		offset := rapid.SampledFrom([]float64{0, 5000, 1e6}).Draw(t, "offset")
		m := soup(r, rapid.IntRange(1, 300).Draw(t, "faces"), offset)
		if rapid.Bool().Draw(t, "float32") {
			for i, v := range m.Vertices {
				m.Vertices[i] = geom.Vec{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
			}
		}
		near := build(t, m, 2).NewFinder()
		for range 40 {
			p := geom.Vec{X: offset + 150*r.NormFloat64(), Y: -offset + 150*r.NormFloat64(), Z: 150 * r.NormFloat64()}
			if r.IntN(4) == 0 {
				p = m.Vertices[r.IntN(len(m.Vertices))]
			}
			within := []float64{math.Inf(1), 20, 3, 0}[r.IntN(4)]
			var facing *Facing
			if r.IntN(2) == 0 {
				facing = &Facing{Dir: geom.Vec{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit(), MinCos: 0.5}
			}
			want, wantOK := brute(m, p, within, facing)
			got, ok := near.Closest(p, within, facing)
			require.Equal(t, wantOK, ok)
			if ok {
				require.Equal(t, want, got)
			}
			require.Equal(t, wantOK, near.Any(p, within, facing))
		}
	})
}

// Three points in a line have an area made of roundings, and its normal may point along them.
// Such faces are found as well: each of their corners lies at no distance.
func TestFacesWhoseNormalIsMadeOfRoundings(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	m := soup(r, 500, 0)
	for range 500 {
		p := geom.Vec{X: 9000 * r.NormFloat64(), Y: 9000 * r.NormFloat64(), Z: 9000 * r.NormFloat64()}
		d := geom.Vec{X: 500 * r.NormFloat64(), Y: 500 * r.NormFloat64(), Z: 500 * r.NormFloat64()}
		k := uint32(len(m.Vertices))
		m.Vertices = append(m.Vertices, p, p.Add(d), p.Add(d.Scale(3)))
		m.Faces = append(m.Faces, [3]uint32{k, k + 1, k + 2})
	}
	ask := func() {
		near := build(t, m, 1).NewFinder()
		for i, p := range m.Vertices {
			got, ok := near.Closest(p, math.Inf(1), nil)
			want, _ := brute(m, p, math.Inf(1), nil)
			require.True(t, ok)
			require.Equal(t, want, got, "corner %d", i)
		}
	}
	ask()
	WithoutVector(ask)
}
