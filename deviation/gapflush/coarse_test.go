package gapflush_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// Coarser and coarser scans of one piece: the share of stations with a number
// only falls, and what is given keeps within its U.
func TestCoarserNeverMeasuresMore(t *testing.T) {
	const r = 1.5
	for _, even := range []bool{true, false} {
		last := math.Inf(1)
		inside, flush, n, m := 0, 0, 0, 0
		for _, spacing := range []float64{0.8, 1.2, 1.45, 1.7, 2.0, 2.5, 3.0, 3.5, 4.2, 5.0} {
			o := bodywork.SeamPieceOptions{Radius: [2]float64{r, r}, Gap: 4, Flush: 0.6, Angle: 0.05, Length: 1000, Noise: 0.03, Seed: 7, Jitter: 0.3, Spacing: spacing, Seen: [2]float64{1.7, 1.7}}
			if even {
				o.ArcStep = spacing / r
			}
			p, s := piece(o)
			res := measure(t, p.Mesh, s, gapflush.Settings{})
			given := 0.0
			for _, st := range res.Stations {
				if !st.Gap.OK {
					require.NotEmpty(t, st.Why)
				} else {
					given++
					n++
					e := math.Abs(st.Gap.V - p.Truth[0].Gap)
					require.LessOrEqual(t, e, 3*st.Gap.U)
					if e <= st.Gap.U {
						inside++
					}
				}
				if st.Flush.OK {
					m++
					e := math.Abs(st.Flush.V - p.Truth[0].Flush)
					require.LessOrEqual(t, e, 3*st.Flush.U)
					if e <= st.Flush.U {
						flush++
					}
				}
			}
			require.LessOrEqual(t, given, last+1, "spacing %g", spacing)
			last = given
		}
		require.Zero(t, last)
		require.GreaterOrEqual(t, float64(inside), 0.9*float64(n))
		require.GreaterOrEqual(t, float64(flush), 0.9*float64(m))
	}
}
