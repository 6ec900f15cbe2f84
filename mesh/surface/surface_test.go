package surface

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

func surfaceOf(t require.TestingT, m *mesh.Mesh) *Surface {
	s, err := New(context.Background(), m, 2, nil)
	require.NoError(t, err)
	return s
}

func closest(t require.TestingT, m *mesh.Mesh, p geom.Vec) Hit {
	h, ok := surfaceOf(t, m).NewFinder().Closest(p, math.Inf(1))
	require.True(t, ok)
	return h
}

// signed is the definition of the sign on the mesh: (p - q)·N.
func signed(h Hit, p geom.Vec) float64 {
	return math.Copysign(h.Distance, p.Sub(h.Point).Dot(h.Normal))
}

// cube has half size 1, its faces cut along one diagonal each.
func cube() *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		at := func(bit int) float64 { return float64(i>>bit&1)*2 - 1 }
		m.Vertices = append(m.Vertices, geom.Vec{X: at(0), Y: at(1), Z: at(2)})
	}
	for _, q := range [][4]uint32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Faces = append(m.Faces, [3]uint32{q[0], q[1], q[2]}, [3]uint32{q[0], q[2], q[3]})
	}
	return m
}

// icosphere is the unit icosahedron cut level times into four, its corners put on the sphere.
func icosphere(level int) *mesh.Mesh {
	phi := (1 + math.Sqrt(5)) / 2
	m := &mesh.Mesh{}
	for _, v := range [][3]float64{{-1, phi, 0}, {1, phi, 0}, {-1, -phi, 0}, {1, -phi, 0}, {0, -1, phi}, {0, 1, phi},
		{0, -1, -phi}, {0, 1, -phi}, {phi, 0, -1}, {phi, 0, 1}, {-phi, 0, -1}, {-phi, 0, 1}} {
		m.Vertices = append(m.Vertices, geom.Vec{X: v[0], Y: v[1], Z: v[2]}.Unit())
	}
	m.Faces = [][3]uint32{{0, 11, 5}, {0, 5, 1}, {0, 1, 7}, {0, 7, 10}, {0, 10, 11}, {1, 5, 9}, {5, 11, 4}, {11, 10, 2}, {10, 7, 6}, {7, 1, 8},
		{3, 9, 4}, {3, 4, 2}, {3, 2, 6}, {3, 6, 8}, {3, 8, 9}, {4, 9, 5}, {2, 4, 11}, {6, 2, 10}, {8, 6, 7}, {9, 8, 1}}
	for range level {
		between := map[[2]uint32]uint32{}
		half := func(a, b uint32) uint32 {
			k := [2]uint32{min(a, b), max(a, b)}
			if _, ok := between[k]; !ok {
				between[k] = uint32(len(m.Vertices))
				m.Vertices = append(m.Vertices, m.Vertices[a].Add(m.Vertices[b]).Unit())
			}
			return between[k]
		}
		var faces [][3]uint32
		for _, f := range m.Faces {
			a, b, c := half(f[0], f[1]), half(f[1], f[2]), half(f[2], f[0])
			faces = append(faces, [3]uint32{f[0], a, c}, [3]uint32{a, f[1], b}, [3]uint32{c, b, f[2]}, [3]uint32{a, b, c})
		}
		m.Faces = faces
	}
	return m
}

// A point at 1 + d from the centre of a sphere of radius 1 lies between d and
// d + sag above a mesh inscribed in it. Largest sags of the icosphere by level:
// computed with numpy from the same construction, apart from this code.
func TestDistanceFromASphere(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for level, sag := range []float64{0.205346, 0.065828, 0.017753, 0.004528} {
		near := surfaceOf(t, icosphere(level)).NewFinder()
		for range 500 {
			dir := geom.Vec{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit()
			for _, d := range []float64{0.001, 0.5, 30} {
				p := dir.Scale(1 + d)
				h, ok := near.Closest(p, math.Inf(1))
				require.True(t, ok)
				s := signed(h, p)
				require.GreaterOrEqual(t, s, d-1e-12)
				require.LessOrEqual(t, s, d+sag+1e-6)
				require.False(t, h.Border)
			}
			inside := dir.Scale(0.5)
			h, _ := near.Closest(inside, math.Inf(1))
			require.Negative(t, signed(h, inside))
		}
	}
}

// Distance of (1.5, 1.5, 1.5) from a box of half size 1: sqrt(3)/2 = 0.8660254, by hand.
func TestDistanceFromABox(t *testing.T) {
	p := geom.Vec{X: 1.5, Y: 1.5, Z: 1.5}
	h := closest(t, cube(), p)
	require.InDelta(t, 0.8660254037844386, signed(h, p), 1e-15)
	require.Equal(t, geom.Vec{X: 1, Y: 1, Z: 1}, h.Point)

	// Over an edge and over a face, outside and inside.
	for _, c := range []struct {
		p    geom.Vec
		want float64
	}{
		{geom.Vec{X: 2, Y: 3, Z: 0.3}, math.Sqrt(5)}, {geom.Vec{X: 0.1, Y: -3, Z: 0.3}, 2},
		{geom.Vec{X: 0.1, Y: 0.2, Z: 0.9}, -0.1}, {geom.Vec{X: 0, Y: 0, Z: 0}, -1},
	} {
		require.InDelta(t, c.want, signed(closest(t, cube(), c.p), c.p), 1e-15)
	}
}

// A cube's corner has the pseudonormal (1, 1, 1)/sqrt(3) = 0.57735 however its
// faces are cut: here one face is a fan of 20 triangles at the corner, where the
// unweighted mean is (0.0499, 0.0499, 0.9975) and the area-weighted one
// (0.4734, 0.4734, 0.7428) (both computed with numpy). The property is the
// point of Bærentzen & Aanæs 2005.
func TestCornerPseudonormalDoesNotKnowTheCutting(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: -1}, {Y: -1}, {Z: -1}}}
	// The corner at the origin of the octant x, y, z <= 0; its face z = 0 is fanned from -x to -y.
	m.Faces = [][3]uint32{{0, 2, 3}, {0, 3, 1}}
	last := uint32(1)
	for k := 1; k <= 20; k++ {
		next := uint32(2)
		if k < 20 {
			s, c := math.Sincos(float64(k) / 20 * math.Pi / 2)
			next = uint32(len(m.Vertices))
			m.Vertices = append(m.Vertices, geom.Vec{X: -c, Y: -s})
		}
		m.Faces = append(m.Faces, [3]uint32{0, last, next})
		last = next
	}
	h := closest(t, m, geom.Vec{X: 0.2, Y: 0.3, Z: 0.1})
	require.Equal(t, geom.Vec{}, h.Point)
	for axis := range 3 {
		require.InDelta(t, 1/math.Sqrt(3), h.Normal.At(axis), 1e-12)
	}
	require.False(t, h.Border)
}

// A pyramid's apex whose one side is cut into 50 slivers: the unweighted sum of
// the normals puts q inside (N·q = -4.589), the angle-weighted one outside
// (+1.323); both values computed with numpy.
func TestSignAtAFannedApex(t *testing.T) {
	a, b, c := geom.Vec{X: -1, Y: -1, Z: -0.2}, geom.Vec{X: -1, Y: 1, Z: -0.2}, geom.Vec{X: -1, Z: 1}
	m := &mesh.Mesh{Vertices: []geom.Vec{{}, c}}
	for k := range 51 {
		m.Vertices = append(m.Vertices, a.Lerp(b, float64(k)/50))
		if k > 0 {
			m.Faces = append(m.Faces, [3]uint32{0, uint32(k + 1), uint32(k + 2)})
		}
	}
	m.Faces = append(m.Faces, [3]uint32{0, 52, 1}, [3]uint32{0, 1, 2})
	q := geom.Vec{X: 0.9, Y: 0.4, Z: 0.3}
	s := surfaceOf(t, m)
	h, _ := s.NewFinder().Closest(q, math.Inf(1))
	require.Equal(t, geom.Vec{}, h.Point)
	require.Positive(t, signed(h, q))
	require.InDelta(t, 1.323, s.weighted(h.Face, h.Feature).Dot(q), 5e-4)
	plain := geom.Vec{}
	for f := range m.Faces {
		plain = plain.Add(m.AreaNormal(uint32(f)).Unit())
	}
	require.InDelta(t, -4.589, plain.Dot(q), 5e-4, "the example is the published kind of failure")
}

// Moving mesh and point together moves the answer along (to rounding), and the
// order of faces changes nothing but the index of the face.
func TestAnswersMoveWithTheMesh(t *testing.T) {
	base := icosphere(2)
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		vec := func(scale float64) geom.Vec {
			return geom.Vec{X: scale * r.NormFloat64(), Y: scale * r.NormFloat64(), Z: scale * r.NormFloat64()}
		}
		g := geom.RotationVector(vec(1))
		g.T = vec(10)
		p := vec(1)
		h, moved := closest(t, base, p), closest(t, base.Moved(g), g.Apply(p))
		require.InDelta(t, signed(h, p), signed(moved, g.Apply(p)), 1e-12)

		order := r.Perm(len(base.Faces))
		other := &mesh.Mesh{Vertices: base.Vertices}
		for _, f := range order {
			other.Faces = append(other.Faces, base.Faces[f])
		}
		k := closest(t, other, p)
		require.InDelta(t, h.Distance, k.Distance, 1e-15)
		require.InDelta(t, 0, h.Point.Dist(k.Point), 1e-12)
		require.InDelta(t, 0, h.Normal.Dist(k.Normal), 1e-12)
	})
}

func TestNewRefusesWhatIsNoSurface(t *testing.T) {
	_, err := New(context.Background(), &mesh.Mesh{Vertices: []geom.Vec{{}}}, 0, nil)
	require.ErrorIs(t, err, ErrNoFaces)
	_, err = New(context.Background(), &mesh.Mesh{Vertices: []geom.Vec{{}}, Faces: [][3]uint32{{0, 0, 7}}}, 0, nil)
	require.ErrorContains(t, err, "vertex 7")
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = New(stopped, cube(), 0, nil)
	require.ErrorIs(t, err, context.Canceled)
}
