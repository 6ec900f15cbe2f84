package gapflush

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever is expected, the middle is that of the sorted values.
func TestMedianNear(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for n := range 400 {
		v := make([]float64, n)
		for i := range v {
			v[i] = rng.ExpFloat64()
			if n%3 == 0 {
				v[i] = float64(int(4 * v[i])) // ties
			}
		}
		s := slices.Sorted(slices.Values(v))
		want := 0.0
		if n > 0 {
			want = (s[(n-1)/2] + s[n/2]) / 2
		}
		for _, near := range []float64{0, 0.3, 0.69, 0.72, 2, 50} {
			require.Equal(t, want, medianNear(slices.Clone(v), near), "%d values, %v expected", n, near)
		}
	}
}
