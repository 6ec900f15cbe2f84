package deviation

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// spotOn measures a spot of a sheet against the plane z = 0 that reaches from -300 to 300 mm.
func spotOn(t require.TestingT, scan *mesh.Mesh, noise float64, p *Placing, at geom.Vec, radius float64) Spot {
	s := Settings{Reach: 10, Threads: 2, Doubts: true, Placing: p}
	ref := surfaceOf(t, plane(-300, 300, 0, 6))
	f, err := Measure(context.Background(), scan, ref, s, nil)
	require.NoError(t, err)
	f.Expand(noise, 2)
	return MeasureSpot(f, scan, scan.VertexNormals(), ref, s, at, radius)
}

// The value at a place of a paraboloid is its height there, not the mean of
// what lies around: exact, as a quadratic is fitted. By hand.
func TestASpotReadsThePlaceItself(t *testing.T) {
	scan := raised(func(x, y float64) float64 { return 0.4 - 0.002*x*x - 0.001*y*y + 0.01*x - 0.001*x*y })
	for _, at := range []geom.Vec{{X: 0.3, Y: -0.4, Z: 3}, {X: 20.5, Y: -13.2}, {X: -20, Y: 14, Z: -2}} {
		s := spotOn(t, scan, 0, nil, at, 6)
		require.Equal(t, SpotMeasured, s.State, s.Why)
		want := 0.4 - 0.002*at.X*at.X - 0.001*at.Y*at.Y + 0.01*at.X - 0.001*at.X*at.Y
		require.InDelta(t, want, s.Value.V, 1e-9)
		require.InDelta(t, 0, s.Foot.Dist(geom.Vec{X: at.X, Y: at.Y}), 1e-12)
		require.InDelta(t, math.Pi*36, float64(s.Points), 12)
	}
}

// noisy is a sheet with noise on its own, or smoothed over about four of its
// squares as scanners do, of the same standard deviation.
func noisy(seed uint64, sd float64, smooth bool) *mesh.Mesh {
	r := rand.New(rand.NewPCG(seed, 11))
	raw := make([][]float64, 60)
	for i := range raw {
		raw[i] = make([]float64, 60)
		for j := range raw[i] {
			raw[i][j] = r.NormFloat64()
		}
	}
	return sheet(50, 50, func(i, j int) geom.Vec {
		z := raw[i][j]
		if smooth {
			z = 0
			for a := range 4 {
				for b := range 4 {
					z += raw[i+a][j+b] / 4 // 16 of variance 1, over √16
				}
			}
		}
		return geom.Vec{X: float64(i) - 25, Y: float64(j) - 25, Z: sd * z}
	})
}

// Of many scans of a flat sheet, U holds the true deviation, 0, in about 95 %
// when the noise is independent from point to point, and is no less careful when it
// hangs together over four points, where the plain formula is off by a factor.
func TestASpotsUHoldsTheTruth(t *testing.T) {
	for name, c := range map[string]struct {
		smooth   bool
		lo, hi   float64
		smallest float64 // of U beside what independence would give
	}{
		"independent":   {false, 0.93, 0.99, 0.9},
		"hung together": {true, 0.93, 1, 2},
	} {
		const n = 200
		in, mean := 0, 0.0
		for seed := range uint64(n) {
			s := spotOn(t, noisy(seed, 0.05, c.smooth), 0.05, nil, geom.Vec{}, 8)
			require.Equal(t, SpotMeasured, s.State, s.Why)
			mean += s.Value.U / n
			if math.Abs(s.Value.V) <= s.Value.U {
				in++
			}
		}
		t.Logf("%s: %.1f %% within, U %.4f mm on average", name, 100*float64(in)/n, mean)
		require.GreaterOrEqual(t, float64(in)/n, c.lo, name)
		require.LessOrEqual(t, float64(in)/n, c.hi, name)
		// The constant of a quadratic over n points spread evenly on a disc has 4/n of their variance (analytic).
		require.Greater(t, mean, c.smallest*2*0.05*math.Sqrt(4/(math.Pi*64)), name)
	}
}

// A dent sharper than a quadratic over the patch, and a step: U covers what the
// fit does not follow, and stays small where it does.
func TestASpotsUCoversShapesTheFitDoesNotFollow(t *testing.T) {
	for name, c := range map[string]struct {
		lift func(x, y float64) float64
		u    float64 // the most that U may be, mm
	}{
		"dent":     {func(x, y float64) float64 { return -2 * math.Exp(-(x*x+y*y)/300) }, 1.2},
		"step":     {func(x, y float64) float64 { return math.Copysign(0.4, x-0.5) }, 1},
		"wide bow": {func(x, y float64) float64 { return -2 * math.Exp(-(x*x+y*y)/20000) }, 0.04},
	} {
		s := spotOn(t, raised(c.lift), 0.02, nil, geom.Vec{X: 0.2, Y: 0.1}, 12)
		require.Equal(t, SpotMeasured, s.State, name)
		require.LessOrEqual(t, math.Abs(s.Value.V-c.lift(0.2, 0.1)), s.Value.U, "%s: %+v", name, s)
		require.LessOrEqual(t, s.Value.U, c.u, name)
		// A step of 0.8 mm leaves no more than itself and no less than half of itself about any smooth fit.
		switch name {
		case "step":
			require.Greater(t, s.Shape, 0.4)
			require.Less(t, s.Shape, 1.2)
		case "wide bow":
			require.Zero(t, s.Shape)
		}
	}
}

// Every state, and what is not to be had.
func TestSpotsWithoutAValue(t *testing.T) {
	scan := raised(func(x, y float64) float64 { return 0.2 })
	far := spotOn(t, scan, 0.03, nil, geom.Vec{Z: 11}, 5)
	require.Equal(t, OffReference, far.State)
	require.Contains(t, far.Why, "further from it than the reach of 10 mm: its nearest point is 11.0 mm away, at x 0.0, y 0.0, z 0.0 mm")
	require.False(t, far.Value.OK)
	bare := spotOn(t, scan, 0.03, nil, geom.Vec{X: 280, Y: 280}, 5)
	require.Equal(t, NoScan, bare.State)
	require.Contains(t, bare.Why, "has 0 of the 6 measured points")
	// Beside the scan's edge the points do not reach the place, though some lie within the radius.
	beside := spotOn(t, scan, 0.03, nil, geom.Vec{X: 206, Y: 0}, 9)
	require.Equal(t, NoScan, beside.State, "%+v", beside)
	// On the edge itself a plane tells.
	edge := spotOn(t, scan, 0.03, nil, geom.Vec{X: 200, Y: 0}, 9)
	require.Equal(t, SpotMeasured, edge.State, edge.Why)
	require.InDelta(t, 0.2, edge.Value.V, 1e-9)

	up := &Placing{Free: []Free{{Shift: geom.Vec{Z: 1}, Sigma: 10, Words: "slide along Z"}}}
	free := spotOn(t, scan, 0.03, up, geom.Vec{}, 5)
	require.Equal(t, PlacementFree, free.State)
	require.Equal(t, "the placement may slide along Z", free.Why)
	along := &Placing{Free: []Free{{Shift: geom.Vec{X: 1}, Sigma: 10, Words: "slide along X"}}}
	require.Equal(t, SpotMeasured, spotOn(t, scan, 0.03, along, geom.Vec{}, 5).State, "a slide along the sheet changes nothing")
}

func TestLn(t *testing.T) {
	for _, x := range []float64{1, 0.99, 0.5, 0.1, 1e-3, 1e-9} {
		require.InDelta(t, math.Log(x), ln(x), 1e-12*(1-math.Log(x)))
	}
}
