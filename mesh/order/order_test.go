package order_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/order"
)

// The values are those that sorting brings there, ties and all.
func TestAsSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for n := 1; n < 60; n++ {
		for _, kinds := range []int{1, 3, 1000} {
			v := make([]float64, n)
			for i := range v {
				v[i] = float64(rng.IntN(kinds)) / 3
			}
			sorted := slices.Sorted(slices.Values(v))
			k := rng.IntN(n)
			w := slices.Clone(v)
			require.Equal(t, sorted[k], order.Nth(w, k))
			require.LessOrEqual(t, slices.Max(w[:k+1]), slices.Min(w[k:]))
			require.Equal(t, (sorted[(n-1)/2]+sorted[n/2])/2, order.Median(v))
		}
	}
	require.Zero(t, order.Median(nil))
}
