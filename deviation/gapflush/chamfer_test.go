package gapflush_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// chamfered measures a seam of a chamfer, cut mm along the face and falling by so many
// degrees, and a hem of 1.5 mm. The truth is the generator's formula.
func chamfered(t *testing.T, cut, degrees, spacing float64, seed uint64) (*bodywork.Joint, *gapflush.Result) {
	t.Helper()
	j := bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{
			{Form: bodywork.Chamfered, Cut: cut, Fall: degrees * math.Pi / 180, Wall: 2.5, Undercut: 0.03},
			{Form: bodywork.Round, Radius: 1.5},
		},
		Gap: 4, Flush: 0.4, Length: 500, Width: 40, Spacing: spacing, Noise: 0.03, Jitter: 0.3, Seed: seed,
	})
	s := gapflush.DefaultSeam("chamfer", j.Path)
	s.Edges, s.Radius = [2]gapflush.EdgeKind{gapflush.Chamfer, gapflush.Round}, [2]float64{0, 1.5}
	r, err := gapflush.Measure(context.Background(), j.Mesh, nil, s, gapflush.Settings{}, nil)
	require.NoError(t, err)
	return j, r
}

// A chamfer deeper than walls are looked for is no corner and no roll: it keeps the
// form that was stated, and what is given lies within 3 U of the truth.
func TestDeepChamferIsNoOtherForm(t *testing.T) {
	for _, spacing := range []float64{0.5, 1.2, 2} {
		for _, cut := range []float64{2, 3, 4} {
			for _, degrees := range []float64{45, 60} {
				name := fmt.Sprintf("%g mm at %g degrees, spacing %g mm", cut, degrees, spacing)
				j, r := chamfered(t, cut, degrees, spacing, 1)
				for _, st := range r.Stations {
					if st.Gap.OK {
						require.LessOrEqual(t, math.Abs(st.Gap.V-j.Gap), 3*st.Gap.U, name)
					} else {
						require.NotEmpty(t, st.Why, name)
					}
				}
			}
		}
	}
}

// A chamfer is too small for points farther apart than its facet is wide: 0.6 mm at
// 30° is 0.69 mm wide, 1.2 mm at 45° is 1.70 mm.
func TestChamferTooCoarse(t *testing.T) {
	n := 0
	for seed := uint64(1); seed <= 3; seed++ {
		_, r := chamfered(t, 0.6, 30, 1.2, seed)
		require.Zero(t, r.Measured)
		for _, st := range r.Stations {
			if st.State == gapflush.TooCoarse {
				n++
			}
		}
		_, r = chamfered(t, 1.2, 45, 1.2, seed)
		require.Equal(t, len(r.Stations), r.Measured)
	}
	require.Greater(t, n, 40)
}
