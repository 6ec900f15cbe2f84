package mesh

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// The standard library sorts as the reference.
func TestLongSortIsStable(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{0, 1, sortRun, sortRun + 1, 2*sortRun + 5, 7*sortRun - 3} {
		a := make([][2]int, n)
		for i := range a {
			a[i] = [2]int{r.IntN(n/3 + 1), i}
		}
		want := slices.Clone(a)
		compare := func(x, y [2]int) int { return x[0] - y[0] }
		slices.SortStableFunc(want, compare)
		require.NoError(t, sortStable(context.Background(), a, compare))
		require.Equal(t, want, a)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	require.ErrorIs(t, sortStable(ctx, make([]int, 3*sortRun), func(x, y int) int { return x - y }), context.Canceled)
}
