package drift_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/drift"
	"shutline/mesh/geom"
)

// TestBoundOfAPlate compares the bound with the textbook's: beside a shift and two turns, which are odd or constant, the bend of a
// plate is a parabola, told by the sum of the squares of what of it is left beside a constant.
func TestBoundOfAPlate(t *testing.T) {
	const n, long, wide, noise = 41, 2000.0, 800.0, 0.05
	f := drift.Frame{Axes: [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Size: [3]float64{long, wide, 20}}
	var points, normals []geom.Vec
	mean, squares := 0.0, 0.0
	parabola := func(x float64) float64 { return 4 * x * x / (long * long) } // of 1 mm at the ends
	for i := range n {
		x := long * (float64(i)/(n-1) - 0.5)
		mean += parabola(x) / n
		for k := range n {
			points = append(points, geom.Vec{X: x, Y: wide * (float64(k)/(n-1) - 0.5)})
			normals = append(normals, geom.Vec{Z: 1})
		}
	}
	for i := range points {
		e := parabola(points[i].X) - mean
		squares += e * e
	}
	sd := drift.Bound(&f, points, normals, drift.Noise{Point: noise})
	require.InEpsilon(t, noise/math.Sqrt(squares), sd[drift.BendShort], 1e-3)
	// A twist is the product of both coordinates, which no motion is.
	squares = 0
	for _, p := range points {
		e := 2 * p.X * p.Y / (long * wide)
		squares += e * e
	}
	require.InEpsilon(t, noise/math.Sqrt(squares), sd[drift.Twist], 1e-3)
	// Four points on one place err together by what they share and by half of what each has of its own.
	var four, their []geom.Vec
	for i := range points {
		for range 4 {
			four, their = append(four, points[i]), append(their, normals[i])
		}
	}
	const shared = 0.02
	again := drift.Bound(&f, four, their, drift.Noise{Point: noise, Shared: shared, Length: 6})
	require.InEpsilon(t, math.Hypot(noise/2, shared)/math.Sqrt(squares), again[drift.Twist], 1e-3)
	require.Greater(t, sd[drift.BendMiddle], 10.0, "a plate does not show a bend in its own plane")
}
