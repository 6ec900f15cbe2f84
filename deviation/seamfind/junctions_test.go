package seamfind_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Three panels by formula, gaps of 5 mm between edges that roll down by 5 mm: one above a line along the body, two below it,
// parted by an upright one that ends at the first. The line along is two seams, since its lower panel changes; what
// meets it ends there.
func TestALineIsPartedWhereAnotherMeetsIt(t *testing.T) {
	const along, upright = 250.0, 330.0
	drop := func(d float64) float64 { d /= 2.5; return -5 * math.Exp(-d*d*d*d) }
	m := bodywork.WithNoise(bodywork.Mapped(bodywork.Plane(600, 400, 1), func(p geom.Vec) geom.Vec {
		h := drop(p.Y - along)
		if p.Y < along {
			h = min(h, drop(p.X-upright))
		}
		return geom.Vec{X: p.X, Y: p.Y, Z: h}
	}), 0.03, 3)
	found := find(t, m, false, 0)
	require.Len(t, found, 3)
	names := map[string]bool{}
	for _, f := range found {
		names[f.Name] = true
		a, b := f.Path[0], f.Path[len(f.Path)-1]
		if math.Abs(a.X-b.X) < 20 {
			require.InDelta(t, upright, a.X, 1)
			require.InDelta(t, along, max(a.Y, b.Y), 25)
			continue
		}
		require.InDelta(t, along, a.Y, 1)
		// It ends at the upright line, and at the other end at the border.
		require.InDelta(t, 0, min(math.Abs(a.X-upright), math.Abs(b.X-upright)), 6)
		require.InDelta(t, 0, min(min(a.X, b.X), 600-max(a.X, b.X)), 25)
	}
	require.Len(t, names, 3)
}
