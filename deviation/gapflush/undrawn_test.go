package gapflush_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// A reference may be drawn with corners where hems are; the scan shows what they are.
func TestHemsDrawnAsCorners(t *testing.T) {
	hems, corners := bodywork.JointOptions{Gap: 4, Flush: 0.5, Length: 200, Width: 40, Spacing: 0.8, Noise: 0.03, Jitter: 0.3, Seed: 5}, bodywork.JointOptions{Gap: 4, Flush: 0.5, Length: 200, Width: 40, Spacing: 0.4}
	for k, r := range []float64{1.2, 1.6} {
		hems.Edge[k] = bodywork.JointEdge{Form: bodywork.Round, Radius: r}
		corners.Edge[k] = bodywork.JointEdge{Form: bodywork.Round, Radius: 0.15, Wall: 4, Seen: math.Pi / 2}
	}
	scan, ref := bodywork.NewJoint(hems), bodywork.NewJoint(corners)
	r, err := gapflush.Measure(context.Background(), scan.Mesh, ref.Mesh, gapflush.DefaultSeam("corners", scan.Path), gapflush.Settings{}, nil)
	require.NoError(t, err)
	for _, st := range r.Stations {
		require.Equal(t, gapflush.Measured, st.State, st.Why)
		require.InDelta(t, 4, st.Gap.V, 1.5*st.Gap.U)
		require.Less(t, st.Gap.U, 0.15)
	}
	require.Contains(t, strings.Join(r.Notes, "\n"), "The reference has side A's edge with a radius of")
}
