package gapflush

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// skinPoints are a skin's points before a shoulder at 0, back to so many mm, of heights given by a
// function of y, 0.8 mm apart over a band of 8 mm, with noise.
func skinPoints(back, sigma float64, h func(y float64) float64, rng *rand.Rand) (pts []zonePoint) {
	for y := -back; y < 0; y += 0.8 {
		for x := -8.0; x <= 8; x += 0.8 {
			pts = append(pts, zonePoint{x: x, y: y, h: h(y) + sigma*rng.NormFloat64(), nh: 1})
		}
	}
	return pts
}

func widened(t *testing.T, pts []zonePoint) wideBend {
	scratch, zone := new(faceRoom), [2]float64{2.5, 12.5}
	f, ok := fitFace(scratch, pts, &curve{}, line{}, 0, zone, 0, 0.01, 8, 0.8, nil)
	require.True(t, ok)
	f.free(scratch, pts, zone, 0.01, 8, true)
	return f.wide
}

// A leaning circle of 400 mm: its curvature is 1/400 mm wherever it is looked at, and does not
// change, though its height over y has a third derivative of 3 m c² / (1 + m²)^(5/2).
func TestALeaningCircleBendsAlike(t *testing.T) {
	const r, lean = 400.0, 0.15
	top := math.Sin(math.Atan(lean)) * r // where the circle's height over y slopes by lean at y = 0
	h := func(y float64) float64 {
		return math.Sqrt(r*r-(y-top)*(y-top)) - math.Sqrt(r*r-top*top)
	}
	w := widened(t, skinPoints(25, 0, h, rand.New(rand.NewPCG(1, 1))))
	require.True(t, w.ok)
	require.InDelta(t, 1/r, w.c, 2e-6)
	require.InDelta(t, 0, w.change, 2e-7)
}

// The scatter of the curvature over many scans is what is stated of it, and falls as the uncertainty of a
// parabola's second derivative does: sigma sqrt(720/n)/W² for n points evenly over W mm (orthogonal polynomials).
func TestWideCurvatureScattersAsStated(t *testing.T) {
	const sigma, trials = 0.03, 60
	rng := rand.New(rand.NewPCG(2, 2))
	sum, stated := 0.0, 0.0
	for range trials {
		w := widened(t, skinPoints(25, sigma, func(float64) float64 { return 0 }, rng))
		require.True(t, w.ok)
		sum += w.c * w.c / trials
		stated += w.u * w.u / trials
	}
	require.InEpsilon(t, stated, sum, 0.5) // of 60 trials the variance is known to 18 %
	const wide, n = 17.5, 17.5 * 16.8 / 0.64
	require.InEpsilon(t, sigma*math.Sqrt(720/n)/(wide*wide), math.Sqrt(stated), 0.15)
}

// A panel that ends behind its zone, or bends away there, says no more than the zone.
func TestAStretchEndsWithItsPanel(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	level := func(float64) float64 { return 0 }
	require.False(t, widened(t, skinPoints(13, 0.02, level, rng)).ok)
	kinked := func(y float64) float64 { return 0.3 * min(y+12.6, 0) }
	require.False(t, widened(t, skinPoints(25, 0.02, kinked, rng)).ok)
}
