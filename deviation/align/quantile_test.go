package align

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// The value at every place is that of the sorted values, of equal ones, sorted ones and an arrangement with many steps too.
func TestSelectNthIsTheSortedValue(t *testing.T) {
	draw := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 200; n += 7 {
		for kind := range 4 {
			values := make([]float64, n)
			for i := range values {
				values[i] = [4]float64{draw.Float64(), float64(i), float64(draw.IntN(3)), float64((i * 37) % (n/3 + 1))}[kind]
			}
			sorted := slices.Clone(values)
			slices.Sort(sorted)
			for k := range n {
				tried := slices.Clone(values)
				selectNth(tried, k)
				require.Equal(t, sorted[k], tried[k])
				require.LessOrEqual(t, slices.Max(tried[:k+1]), tried[k])
				require.GreaterOrEqual(t, slices.Min(tried[k:]), tried[k])
				slices.Sort(tried)
				require.Equal(t, sorted, tried)
			}
		}
	}
}
