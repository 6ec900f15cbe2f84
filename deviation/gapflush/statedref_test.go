package gapflush_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// A radius stated far off, larger or smaller, does not take the nominal away that the reference shows.
func TestARadiusStatedFarOffLeavesTheNominal(t *testing.T) {
	scanned := bodywork.JointOptions{Gap: 4, Flush: 0.5, Length: 200, Width: 40, Spacing: 0.8, Noise: 0.03, Jitter: 0.3, Seed: 5}
	drawn := bodywork.JointOptions{Gap: 3.5, Flush: 0, Length: 200, Width: 40, Spacing: 0.4}
	for k, r := range []float64{1.5, 1.5} {
		scanned.Edge[k] = bodywork.JointEdge{Form: bodywork.Round, Radius: r}
		drawn.Edge[k] = bodywork.JointEdge{Form: bodywork.Round, Radius: r, Wall: 4, Seen: math.Pi / 2}
	}
	scan, ref := bodywork.NewJoint(scanned), bodywork.NewJoint(drawn)
	for _, r := range []float64{0.1, 1.5, 9} {
		seam := gapflush.DefaultSeam("stated", scan.Path)
		seam.Radius = [2]float64{r, r}
		got, err := gapflush.Measure(context.Background(), scan.Mesh, ref.Mesh, seam, gapflush.Settings{}, nil)
		require.NoError(t, err)
		for _, st := range got.Stations {
			require.True(t, st.GapNominal.OK, "%v mm, station %d", r, st.Index)
			require.InDelta(t, 3.5, st.GapNominal.V, 0.02, "%v mm", r)
		}
	}
}
