package pieces

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func overlapOf(t *testing.T, a, b *mesh.Mesh) *Overlap {
	t.Helper()
	ctx := context.Background()
	first, err := newBody(ctx, Piece{"a", a}, 2)
	require.NoError(t, err)
	second, err := newBody(ctx, Piece{"b", b}, 2)
	require.NoError(t, err)
	o, _, err := findOverlap(ctx, first, second, geom.Identity(), roughReach, 2)
	require.NoError(t, err)
	require.NotNil(t, o)
	return o
}

// residuals returns what the overlap's own motion leaves at the samples, mm.
func (o *Overlap) residuals(t *testing.T) (lo, hi, rms float64) {
	t.Helper()
	c := o.contact
	require.NoError(t, c.pairUp(context.Background(), o.BFromA, leastReach, c.samples, c.matches))
	n := 0
	for i := range c.matches {
		if m := &c.matches[i]; m.paired {
			lo, hi = min(lo, m.r), max(hi, m.r)
			rms += m.r * m.r
			n++
		}
	}
	return lo, hi, math.Sqrt(rms / float64(n))
}

const degree = math.Pi / 180

// A strip bent by an angle over its length L has the sagitta L θ/8; after the best rigid fit 0.2981 of it are left as RMS, a
// third of it at the middle and two thirds at the ends. L = 1500, 0.02°: 0.0654, 0.0195, −0.0218 and +0.0436 (worked
// example, by hand).
func TestBentStripLeavesWhatTheBeamSays(t *testing.T) {
	const l = 1500.0
	flat := bodywork.Plane(l, 200, 10)
	sagitta := l * 0.02 * degree / 8
	require.InDelta(t, 0.0654, sagitta, 5e-5)
	bent := bodywork.Mapped(flat, func(p geom.Vec) geom.Vec {
		x := p.X - l/2
		p.Z += 4 * sagitta * x * x / (l * l)
		return p
	})
	o := overlapOf(t, bent, flat)
	lo, hi, rms := o.residuals(t)
	require.InDelta(t, 0.0195, rms, 2e-4)
	require.InDelta(t, 0.0195, o.Alone, 5e-4)
	// The outermost half step lies beyond the other's border and has no sample.
	require.InDelta(t, -0.0218, lo, 7e-4)
	require.InDelta(t, 0.0436, hi, 7e-4)
	require.Len(t, o.Free, 3, "a plane holds neither its two slides nor its spin")
	require.Contains(t, o.Free, "slide along X")
	require.InDelta(t, 0.0436, o.Most.Offset, 4e-3)
	require.Greater(t, math.Abs(o.Most.At.X-l/2), l/2-60)
}

// A plate twisted by 0.05° over its length of 1500 mm, 600 mm wide: 0.131 mm at the corners, RMS τ Lx Ly/12 = 0.0436.
func TestTwistedPlateLeavesWhatItsCornersSay(t *testing.T) {
	const lx, ly = 1500.0, 600.0
	flat := bodywork.Plane(lx, ly, 15)
	tau := 0.05 * degree / lx
	twisted := bodywork.Mapped(flat, func(p geom.Vec) geom.Vec {
		p.Z += tau * (p.X - lx/2) * (p.Y - ly/2)
		return p
	})
	o := overlapOf(t, twisted, flat)
	lo, hi, rms := o.residuals(t)
	require.InDelta(t, 0.131, hi, 6e-3, "the outermost samples lie a step inside")
	require.InDelta(t, -hi, lo, 2e-3)
	require.InDelta(t, 0.0436, rms, 1.5e-3)
}

// skin is a piece of door with a swage and a dimple, so that everything is held.
func skin(noise, shared float64, seed uint64) *mesh.Mesh {
	m := bodywork.Mapped(bodywork.Plane(700, 400, 4), func(p geom.Vec) geom.Vec {
		x, y := p.X-350, p.Y-200
		s, _ := geom.Sincos(x/30 + y/90)
		u, _ := geom.Sincos(y/25 - x/120)
		p.Z += -x*x/6000 - y*y/3000 + 2*s + 2*u
		return p
	})
	if noise > 0 {
		m = bodywork.WithNoise(m, noise, seed)
	}
	if shared > 0 {
		m = bodywork.WithSmoothNoise(m, shared, 6, seed+1000)
	}
	return m
}

// A bulge that leaves three times what the noise explains is called different shape, and two scans of the same skin are not, whether
// their noise is each point's own or shared by neighbours.
func TestShapeIsToldFromNoise(t *testing.T) {
	for _, kind := range []struct {
		name          string
		noise, shared float64
	}{{"own", 0.03, 0}, {"shared", 0.01, 0.03}} {
		for seed := uint64(1); seed <= 2; seed++ { // many more in the goals
			a, b := skin(kind.noise, kind.shared, seed), skin(kind.noise, kind.shared, seed+50)
			same := overlapOf(t, a, b)
			require.Equal(t, SameShape, same.Shape, "%s, seed %d: F %g, critical %g", kind.name, seed, same.F, same.FCritical)
			require.InDelta(t, 1, same.Alone/same.Noise.Sigma, explainMargin-1)
			size := 3 * same.Noise.Sigma * math.Sqrt2
			wavy := bodywork.Mapped(b, func(p geom.Vec) geom.Vec {
				s, _ := geom.Sincos(p.X / 100)
				p.Z += size * s
				return p
			})
			other := overlapOf(t, a, wavy)
			require.Equal(t, DifferentShape, other.Shape, "%s, seed %d", kind.name, seed)
			// A rigid fit takes part of the wave away.
			require.Greater(t, math.Abs(other.Most.Offset), size/3)
			require.Less(t, math.Abs(other.Most.Offset), 2*size)
		}
	}
}

// Pieces far apart do not overlap.
func TestPiecesApartDoNotOverlap(t *testing.T) {
	ctx := context.Background()
	g := geom.Identity()
	g.T.Z = 200
	a, err := newBody(ctx, Piece{"a", skin(0, 0, 1)}, 2)
	require.NoError(t, err)
	b, err := newBody(ctx, Piece{"b", skin(0, 0, 1).Moved(g)}, 2)
	require.NoError(t, err)
	o, m, err := findOverlap(ctx, a, b, geom.Identity(), roughReach, 2)
	require.NoError(t, err)
	require.Nil(t, o)
	require.Nil(t, m)
}

// Two skins of 12 m² whose points lie far apart, or of which few are looked at, still tell what they differ by: of a twist that lifts the
// corners by 3 mm, xy over a rectangle, a third is left, root mean square. Patches of a hand's width would hold too few points.
func TestPointsFarApartTellAShape(t *testing.T) {
	flat := bodywork.Plane(4000, 3000, 30)
	twisted := bodywork.Mapped(bodywork.Plane(4000, 3000, 31), func(p geom.Vec) geom.Vec {
		p.Z += 3 * (p.X/2000 - 1) * (p.Y/1500 - 1)
		return p
	})
	o := overlapOf(t, bodywork.WithNoise(flat, 0.05, 1), bodywork.WithNoise(twisted, 0.05, 2))
	require.Equal(t, DifferentShape, o.Shape, o.Why)
	require.InDelta(t, 1.0, o.Alone, 0.06)
	require.InDelta(t, 3, math.Abs(o.Most.Offset), 0.4)

	same := overlapOf(t, bodywork.WithNoise(flat, 0.05, 3), bodywork.WithNoise(bodywork.Plane(4000, 3000, 31), 0.05, 4))
	require.Equal(t, SameShape, same.Shape, same.Why)
	require.Greater(t, same.Alone, 0.04, "noise is left, and not nothing")
}
