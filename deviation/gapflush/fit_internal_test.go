package gapflush

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func flat(y0 float64) face { return face{y0: y0} }

// trade.md 1.2: on an arc of 60° with noise 0.02 mm Kåsa's algebraic fit of a
// circle of radius 1 gives 0.853 on average; the geometric fit stays at 1.00.
func TestGeometricFitIsNotBiased(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	f := flat(-7.5)
	var radii []float64
	for range 400 {
		var pts []zonePoint
		for i := range 60 {
			phi := (0.22 + (math.Pi/3-0.22)*float64(i)/59)
			d := 1 + 0.02*rng.NormFloat64()
			sn, cs := math.Sincos(phi)
			pts = append(pts, zonePoint{x: float64(i%13) - 6, y: d * sn, h: d*cs - 1, ny: sn, nh: cs})
		}
		e := fitRound(pts, rollTask{&f, 0.1, 1.3, 5, 0.02, 0.2, 8})
		require.True(t, e.found)
		radii = append(radii, e.r)
	}
	require.InDelta(t, 1, median(radii), 0.02)
}

// trade.md 1.2: the nose of an arc seen to 45° scatters by 0.43 standard
// deviations of the noise when radius and face are known (30 points from the
// face normal on). Here the first 12° do not count, so 30 points lie beyond
// them; the stated scatter must be what a simulation finds.
func TestStatedScatterIsTheScatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	f := flat(-7.5)
	const sigma = 0.01
	sum, stated := 0.0, 0.0
	const trials = 600
	for range trials {
		var pts []zonePoint
		for i := range 30 {
			phi := 0.22 + (math.Pi/4-0.22)*float64(i)/29
			d := 1 + sigma*rng.NormFloat64()
			sn, cs := math.Sincos(phi)
			pts = append(pts, zonePoint{x: float64(i%13) - 6, y: d * sn, h: d*cs - 1, ny: sn, nh: cs})
		}
		e := fitRound(pts, rollTask{&f, 0, 1, 1e-4, sigma, 0.2, 8})
		sum += e.s * e.s
		stated += e.data[0][0]
	}
	require.InEpsilon(t, stated/trials, sum/trials, 0.25)
	require.InDelta(t, 0.43, math.Sqrt(sum/trials)/sigma, 0.12)
}

// trade.md 1.3: a straight line fitted 2..10 mm behind the edge of a face of
// radius 1000 mm reads (a² + 4ab + b²)/(12 R) = 0.0153 mm high at the edge;
// with the curvature known it reads right.
func TestCurvatureBias(t *testing.T) {
	var pts []zonePoint
	for x := -8.0; x <= 8; x++ {
		for y := -10.0; y <= -2; y += 0.1 {
			pts = append(pts, zonePoint{x: x, y: y, h: -y * y / 2000, nh: 1})
		}
	}
	for _, c := range []struct{ curvature, want float64 }{{0, 0.0153}, {0.001, 0}} {
		f, ok := fitFace(pts, &curve{}, line{}, 0, [2]float64{2, 10}, c.curvature, 0.001, 8, 1, true)
		require.True(t, ok)
		require.InDelta(t, c.want, f.at0(0), 3e-4)
		require.InDelta(t, 0.001, f.quad, 1e-6)
		// What a change of curvature does to the height at the edge is what U takes it to be.
		require.InDelta(t, -15.3, (f.dh0-f.dm*(f.y0))-f.y0*f.y0/2, 0.3)
	}
}

// A corner and a chamfer of 1 mm at 45° by hand.
func TestStraightEdges(t *testing.T) {
	f := flat(-7.5)
	var wall, chamfer []zonePoint
	for x := -8.0; x <= 8; x++ {
		for h := 0.3; h < 2.5; h += 0.4 {
			wall = append(wall, zonePoint{x: x, y: 0, h: -h, ny: 1})
		}
		for d := 0.2; d < 1; d += 0.2 {
			chamfer = append(chamfer, zonePoint{x: x, y: d, h: -d, ny: math.Sqrt2 / 2, nh: math.Sqrt2 / 2})
		}
		for h := 1.2; h < 2.5; h += 0.3 {
			chamfer = append(chamfer, zonePoint{x: x, y: 1, h: -h, ny: 1})
		}
	}
	e := fitStraight(wall, &f, -0.4, 0.01, Sharp)
	require.True(t, e.found)
	require.InDelta(t, 0, e.s, 1e-3)
	e = fitStraight(chamfer, &f, -0.3, 0.01, Chamfer)
	require.True(t, e.found)
	require.InDelta(t, 0, e.s, 0.02)
	require.InDelta(t, 1, e.r, 0.03)
	require.InDelta(t, 1, e.fall, 0.03)
}

// trade.md 1.4: gaps 3.60 … 4.10 every 100 mm slope by 1.0143 mm/m = 0.10143 mm per 100 mm.
func TestTaper(t *testing.T) {
	var st []Station
	for i, g := range []float64{3.60, 3.70, 3.80, 3.95, 4.00, 4.10} {
		st = append(st, Station{Along: 100 * float64(i), Gap: value(g, 0.02)})
	}
	v := taper(st)
	require.InDelta(t, 0.10143, v.V, 1e-5)
	// residual sd 0.0226 (n-2) over sqrt(Sxx = 175000) = 5.4e-5, twice that per 100 mm
	require.InDelta(t, 0.0108, v.U, 2e-4)
}
