package surface_test

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

func skinOf(t *testing.T, m *mesh.Mesh) *surface.Skin {
	t.Helper()
	s, err := surface.New(context.Background(), m, 2, nil)
	require.NoError(t, err)
	return s.Skin(2)
}

// Over facets of 10 to 50 mm on a sphere and on a cylinder, the skin rises as far as the
// formula says the surface lies over them, to a fiftieth of the greatest sag
// h²/8R, and to three quarters of it beside an open border, where half of what would
// tell is missing; on the flat it does not rise at all. Analytic.
func TestTheSkinRisesByTheSag(t *testing.T) {
	for name, c := range map[string]struct {
		m    *mesh.Mesh
		over func(q, n geom.Vec) float64 // how far the true surface lies over q
		step float64
		r    float64
	}{
		"sphere": {bodywork.SpherePatch(900, 0.4, 30), func(q, n geom.Vec) float64 { return 900 - q.Norm() }, 30 * math.Sqrt2, 900},
		"cylinder": {bodywork.CylinderPatch(700, 0.5, 600, 50), func(q, n geom.Vec) float64 {
			return 700 - geom.Vec{X: q.X, Z: q.Z}.Norm()
		}, 50, 700},
		"plane": {bodywork.Plane(400, 300, 20), func(q, n geom.Vec) float64 { return q.Z }, 0, 1},
	} {
		skin := skinOf(t, c.m)
		sag := c.step * c.step / 8 / c.r
		box := c.m.Bounds()
		for f := range c.m.Faces {
			p, q, r := c.m.Corners(uint32(f))
			for _, w := range [][3]float64{{1, 1, 1}, {1, 1, 0}, {0, 1, 1}, {1, 0, 1}, {3, 1, 0}, {1, 0, 0}} {
				at := p.Scale(w[0]).AddScaled(w[1], q).AddScaled(w[2], r).Scale(1 / (w[0] + w[1] + w[2]))
				rise, normal, smooth := skin.At(uint32(f), at)
				require.True(t, smooth, name)
				allowed := sag / 50
				if middle := p.Add(q).Add(r).Scale(1.0 / 3); min(middle.X-box.Lo.X, box.Hi.X-middle.X, middle.Y-box.Lo.Y, box.Hi.Y-middle.Y) < c.step {
					allowed = 0.75 * sag
				}
				require.InDelta(t, c.over(at, normal), rise, allowed+1e-12, "%s: face %d at %v", name, f, w)
			}
		}
	}
}

// A box's faces are flat up to their edges: no rise, no made-up smoothness.
func TestTheSkinStaysFlatBesideAnEdge(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []geom.Vec{{X: -50}, {X: -50, Y: 80}, {}, {Y: 80}, {Z: -50}, {Y: 80, Z: -50}},
		Faces:    [][3]uint32{{0, 2, 1}, {1, 2, 3}, {2, 4, 3}, {3, 4, 5}},
	}
	skin := skinOf(t, m)
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		rise, normal, smooth := skin.At(uint32(f), a.Add(b).Add(c).Scale(1.0/3))
		require.False(t, smooth)
		require.Zero(t, rise)
		require.InDelta(t, 1, normal.Norm(), 1e-12)
	}
}
