package deviation_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"shutline/deviation"
)

// The tails are those of gonum's binomial distribution, also where single terms are smaller than any number.
func TestByChanceIsTheBinomialTail(t *testing.T) {
	for _, n := range []int{1, 20, 34, 100, 1000, 20000} {
		b := distuv.Binomial{N: float64(n), P: 0.05}
		for _, k := range []int{0, 1, 2, 5, 9, 15, 60, 1000, 1060, n} {
			if k > n {
				continue
			}
			c := deviation.ByChance(n, k)
			require.InDelta(t, 0.05*float64(n), c.Expected, 1e-9)
			require.InDelta(t, b.Survival(float64(k)-1), c.P, 1e-9, "%d of %d", k, n)
			require.Equal(t, c.P >= 0.01, c.Explains())
		}
	}
	// By hand: none of 20 with 0.95²⁰ = 0.358486; at least one of 20 with the rest.
	require.InDelta(t, 1-math.Pow(0.95, 20), deviation.ByChance(20, 1).P, 1e-12)
	require.Equal(t, 1.0, deviation.ByChance(0, 0).P)
	require.False(t, deviation.ByChance(34, 7).Explains(), "0.5 %")
	require.True(t, deviation.ByChance(34, 4).Explains(), "9 %")
}
