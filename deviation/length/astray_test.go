package length_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/length"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// skins returns two skins a metre apart along X that stand h(y, z) beyond x = 0 and x = 1000.
func skins(h func(y, z float64) float64, half float64) *mesh.Mesh {
	flat := bodywork.Plane(2*half, 2*half, 2)
	wall := func(x float64) *mesh.Mesh {
		return bodywork.Mapped(flat, func(p geom.Vec) geom.Vec {
			y, z := p.X-half, p.Y-half
			if x == 0 {
				return geom.Vec{X: -h(y, z), Y: y, Z: z}
			}
			return geom.Vec{X: x + h(y, z), Y: y, Z: z}
		})
	}
	return bodywork.Together(wall(0), wall(1000))
}

func astray(t *testing.T, m *mesh.Mesh, s float64) (float64, string) {
	t.Helper()
	r := &length.Result{Measured: verdict.Value{V: 1000, OK: true}, Ends: [2]geom.Vec{{}, {X: 1000}}}
	u, why, err := length.Astray(context.Background(), m, r, s, 0)
	require.NoError(t, err)
	return u, why
}

// Places that scatter by s both ways on skins of slope g lie nearer or farther by g·s, each end by itself; and they lie
// slantwise, by s²/L on average and as much again (the mean and standard deviation of s²/2L times chi-square of 2).
func TestAstrayOnASlope(t *testing.T) {
	const g, s = 0.1, 5.0
	u, why := astray(t, skins(func(y, _ float64) float64 { return g * y }, 40), s)
	require.Empty(t, why)
	require.InDelta(t, math.Sqrt(2*g*g*s*s+2*s*s*s*s/1e6), u, 1e-6)
	u, _ = astray(t, skins(func(_, _ float64) float64 { return 0 }, 40), s)
	require.InDelta(t, math.Sqrt2*s*s/1000, u, 1e-9)
}

// On a dome of radius R they lie lower by r²/2R; root of two times s beside, that is s²/R.
func TestAstrayOnADome(t *testing.T) {
	const radius, s = 500.0, 10.0
	u, _ := astray(t, skins(func(y, z float64) float64 { return -(y*y + z*z) / (2 * radius) }, 40), s)
	require.InDelta(t, math.Sqrt2*math.Hypot(s*s/radius, s*s/1000), u, 0.004) // facets of 2 mm cut the dome by 2²/8R and less
}

// Where most of the places lie off the surface nothing is told.
func TestAstrayOffTheSurface(t *testing.T) {
	_, why := astray(t, skins(func(_, _ float64) float64 { return 0 }, 6), 10)
	require.Equal(t, "first", why)
}

// Between spheres nothing is added: they are found where they are.
func TestAstrayBetweenForms(t *testing.T) {
	r := &length.Result{Measured: verdict.Value{V: 1000, OK: true}, Ends: [2]geom.Vec{{}, {X: 1000}}, Fits: [2]*length.Fit{{Kind: length.Sphere}, {Kind: length.Sphere}}}
	u, why, err := length.Astray(context.Background(), &mesh.Mesh{}, r, 10, 0)
	require.NoError(t, err)
	require.Empty(t, why)
	require.Zero(t, u)
	c, s := math.Cos(0.02), math.Sin(0.02)
	r.Fits = [2]*length.Fit{{Kind: length.Plane, Dir: geom.Vec{X: 1}}, {Kind: length.Plane, Dir: geom.Vec{X: c, Y: s}}}
	u, _, _ = length.Astray(context.Background(), &mesh.Mesh{}, r, 10, 0)
	require.InDelta(t, 10*s, u, 1e-9)
}
