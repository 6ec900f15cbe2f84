package geom_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// By hand: a path of 3 and 4 mm with a right angle and a point written twice.
func TestNearestOnPath(t *testing.T) {
	path := []geom.Vec{{}, {X: 3}, {X: 3}, {X: 3, Y: 4}}
	for _, c := range []struct {
		p          geom.Vec
		along, far float64
	}{
		{geom.Vec{X: 1, Z: 2}, 1, 2}, {geom.Vec{X: 5, Y: 1}, 4, 2}, {geom.Vec{X: -3, Y: -4}, 0, 5}, {geom.Vec{X: 3, Y: 9}, 7, 5},
	} {
		along, far := geom.NearestOnPath(c.p, path)
		require.InDelta(t, c.along, along, 1e-12)
		require.InDelta(t, c.far, far, 1e-12)
	}
	_, far := geom.NearestOnPath(geom.Vec{}, path[:1])
	require.True(t, math.IsInf(far, 1))
}
