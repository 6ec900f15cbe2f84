package surface

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// A foot is the hit of the question with the normal, without it: over faces, edges, corners, borders and
// a crack of 0.02 mm between two patches that counts as joined.
func TestAFootIsTheHitWithoutItsNormal(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []geom.Vec{{}, {Y: 10}, {X: -10, Y: 5}, {X: 0.02, Y: 5}, {X: 10, Y: 5}, {X: 0.02, Z: -3}, {X: 10, Y: 5, Z: -4}, {X: 12, Y: 9}},
		Faces:    [][3]uint32{{0, 1, 2}, {0, 4, 3}, {4, 1, 3}, {0, 5, 6}, {4, 7, 1}},
	}
	s, err := New(context.Background(), m, 1, nil)
	require.NoError(t, err)
	a, b := s.NewFinder(), s.NewFinder()
	rng := rand.New(rand.NewPCG(1, 2))
	border, inside := 0, 0
	for range 4000 {
		p := geom.Vec{X: float64(rng.IntN(49)-24) / 2, Y: float64(rng.IntN(49)-12) / 2, Z: rng.NormFloat64()}
		full, ok := a.Closest(p, math.Inf(1))
		foot, also := b.Foot(p, math.Inf(1))
		require.True(t, ok && also)
		require.Zero(t, foot.Normal)
		if full.Border {
			border++
		} else {
			inside++
		}
		foot.Normal = full.Normal
		require.Equal(t, full, foot)
		full, ok = a.ClosestFacing(p, geom.Vec{Z: 1}, 0.5, 6)
		foot, also = b.FootFacing(p, geom.Vec{Z: 1}, 0.5, 6)
		require.Equal(t, ok, also)
		foot.Normal = full.Normal
		require.Equal(t, full, foot)
	}
	require.Greater(t, border, 100)
	require.Greater(t, inside, 100)
}
