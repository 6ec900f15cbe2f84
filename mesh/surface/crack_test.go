package surface

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// patches is two rectangles that meet at x = 0 with a crack of the given
// width, the right one tilted down by angle; its border there has twice the corners.
func patches(crack, angle float64) *mesh.Mesh {
	s, c := math.Sincos(angle)
	right := func(u, y float64) geom.Vec { return geom.Vec{X: crack + u*c, Y: y, Z: -u * s} }
	return &mesh.Mesh{
		Vertices: []geom.Vec{{X: -10}, {}, {Y: 10}, {X: -10, Y: 10},
			right(0, 0), right(10, 0), right(10, 10), right(0, 10), right(0, 5)},
		Faces: [][3]uint32{{0, 1, 2}, {0, 2, 3}, {4, 5, 8}, {5, 6, 8}, {6, 7, 8}},
	}
}

func TestCracksCountAsJoined(t *testing.T) {
	over := geom.Vec{X: 0.001, Y: 3, Z: 2}
	for _, c := range []struct {
		crack  float64
		border bool
	}{{0.01, false}, {0.049, false}, {0.06, true}, {1, true}} {
		h := closest(t, patches(c.crack, math.Pi/2), over)
		require.InDelta(t, 0, h.Point.X, 1e-12)
		require.Equal(t, c.border, h.Border, "crack of %v mm", c.crack)
		want := geom.Vec{Z: 1}
		if !c.border {
			// The normal of the joined edge, between the two faces': 45 degrees.
			want = geom.Vec{X: 1, Z: 1}.Unit()
		}
		require.InDelta(t, 0, h.Normal.Dist(want), 1e-12)
	}
	// The outer borders stay open, however near the crack's end they begin.
	m := patches(0.01, 0)
	require.True(t, closest(t, m, geom.Vec{X: -3, Y: -4, Z: 1}).Border)
	require.True(t, closest(t, m, geom.Vec{X: -0.06, Y: -4, Z: 1}).Border)
}

// A patch cut much finer than the crack width is not joined to itself, and
// patches that share corners are joined along the crack between those.
func TestCracksAndFineMeshes(t *testing.T) {
	const n, step = 40, 0.01
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			m.Vertices = append(m.Vertices, geom.Vec{X: float64(i) * step, Y: float64(j) * step})
			if i > 0 && j > 0 {
				a, b, c, d := uint32((i-1)*(n+1)+j-1), uint32(i*(n+1)+j-1), uint32(i*(n+1)+j), uint32((i-1)*(n+1)+j)
				m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
			}
		}
	}
	for _, x := range []float64{0, 0.004, 0.2, 0.4} {
		require.True(t, closest(t, m, geom.Vec{X: x, Y: -1, Z: 0.1}).Border)
	}
	require.False(t, closest(t, m, geom.Vec{X: 0.2, Y: 0.2, Z: 0.1}).Border)

	// The right patch's middle corner stands 0.02 mm off the left patch's long edge; their ends are welded.
	lens := &mesh.Mesh{
		Vertices: []geom.Vec{{}, {Y: 10}, {X: -10, Y: 5}, {X: 0.02, Y: 5}, {X: 10, Y: 5}},
		Faces:    [][3]uint32{{0, 1, 2}, {0, 4, 3}, {4, 1, 3}},
	}
	for _, y := range []float64{0.3, 4, 7, 9.9} {
		h := closest(t, lens, geom.Vec{X: 0.001, Y: y, Z: 1})
		require.False(t, h.Border, "y = %v", y)
		require.InDelta(t, 0, h.Normal.Dist(geom.Vec{Z: 1}), 1e-12)
	}
}
