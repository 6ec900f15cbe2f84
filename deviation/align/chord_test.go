package align

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// A smooth side of 20 thousand triangles, facets of 14 mm across a line of 6 mm radius: what the facets leave does not average out
// over the scan, and is stated all the same. The truth is the generator's; the limits are those of a mean of
// 10 times 6 squared normal numbers, of which the systematic part is common to all ten.
func TestCoarseFacetsAreStated(t *testing.T) {
	s := surfaceOf(t, bodywork.SmoothSide(bodywork.Sampling{Triangles: 20000}))
	sum, n := 0.0, 0.0
	inside := 0
	for seed := range uint64(10) {
		scan := bodywork.WithNoise(bodywork.SmoothSide(bodywork.Sampling{Triangles: 20000, Jitter: true, Seed: seed}), 0.03, seed)
		f, err := newFit(context.Background(), scan, s, Settings{})
		require.NoError(t, err)
		p, err := f.finish(context.Background(), geom.Identity(), nil)
		require.NoError(t, err)
		squares := 0.0
		for k, a := range p.Along(p.ReferenceFromScan) {
			require.False(t, p.Directions[k].Free)
			squares += a / p.Directions[k].Sigma * (a / p.Directions[k].Sigma)
		}
		sum, n = sum+squares, n+6
		if squares < 12.592 { // 95 % of chi-square with six degrees of freedom, from the tables
			inside++
		}
	}
	require.GreaterOrEqual(t, inside, 9)
	require.Less(t, sum/n, 1.7)
	require.Greater(t, sum/n, 0.2, "nor stated many times too large")
}
