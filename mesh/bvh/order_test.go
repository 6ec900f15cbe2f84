package bvh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// grid returns points row by row, as scanners and meshers write them.
func grid(n int) []geom.Vec {
	var points []geom.Vec
	for i := range n {
		for j := range n {
			points = append(points, geom.Vec{X: float64(i), Y: float64(j), Z: math.Sin(float64(i) / 10)})
		}
	}
	return points
}

func TestOrderOfScatteredPoints(t *testing.T) {
	points := grid(128)
	require.Nil(t, Order(points), "rows are good enough")
	require.Nil(t, Order(points[:100]), "few points need no order")

	rand.New(rand.NewPCG(1, 1)).Shuffle(len(points), func(i, j int) { points[i], points[j] = points[j], points[i] })
	order := Order(points)
	require.Len(t, order, len(points))
	var walk float64
	for i := 1; i < len(order); i++ {
		walk += points[order[i]].Dist(points[order[i-1]])
	}
	// The Morton curve through a plane grid steps by 1, 2, 4, ... with shares halved each
	// time: about 1.7 sides a point on average, here somewhat more for the waves.
	require.Less(t, walk/float64(len(order)), 3.0)
	slices.Sort(order)
	for i, k := range order {
		require.EqualValues(t, i, k)
	}
}

func TestOrderOfOddPoints(t *testing.T) {
	same := make([]geom.Vec, 5000)
	require.Nil(t, Order(same))
	r := rand.New(rand.NewPCG(2, 2))
	line := make([]geom.Vec, 50000)
	for i := range line {
		line[i].X = 1e30 * r.NormFloat64()
	}
	require.Len(t, Order(line), len(line))
	line[77].Y = math.NaN()
	require.NotPanics(t, func() { Order(line) })
}
