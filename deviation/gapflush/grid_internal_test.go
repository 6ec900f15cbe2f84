package gapflush

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Near together and far apart, a grid holds what a plain map of lists would.
func TestGrid(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, wide := range []int32{1, 5, 100, 1 << 20} {
		var at []cell
		want := map[cell][]int32{}
		for i := range int32(500) {
			c := cell{rng.Int32N(wide) - wide/2, rng.Int32N(3) - 1, rng.Int32N(wide)}
			at, want[c] = append(at, c), append(want[c], i)
		}
		g := newGrid(at)
		require.Equal(t, wide > 5, g.number != nil)
		for x := range want {
			for d := int32(-1); d <= 1; d++ {
				c := cell{x.x + d, x.y, x.z - d}
				require.Equal(t, append([]int32{}, want[c]...), append([]int32{}, g.of(c)...))
			}
		}
	}
	require.Empty(t, newGrid(nil).of(cell{}))
}
