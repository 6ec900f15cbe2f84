package gapflush_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// A face zone of 2.5 to 200 mm lies on a flat panel of 250 mm, which gives its gap and flush; one of 170 mm ends before it, and one that falls
// away by 250² / 800 = 78 mm is no one face over it: both have a state that says so, and what to change, where the zone of a panel of 60 mm
// that reaches to 40 mm has none.
func TestAFaceZoneLongerThanThePanelIsSaid(t *testing.T) {
	for _, c := range []struct {
		width, to, bend float64
		state           gapflush.State
	}{
		{250, 200, 0, gapflush.Measured}, {170, 200, 0, gapflush.NoFace}, {150, 200, 0, gapflush.NoFace}, {250, 200, 1.0 / 400, gapflush.NoFace},
		{60, 40, 0, gapflush.Measured}, {30, 40, 0, gapflush.NoFace}, {60, 40, 1.0 / 400, gapflush.Measured},
	} {
		hem := bodywork.JointEdge{Radius: 1.5}
		j := bodywork.NewJoint(bodywork.JointOptions{Edge: [2]bodywork.JointEdge{hem, hem}, Gap: 4, Flush: 0.5, Curvature: [2]float64{c.bend, c.bend}, Length: 60, Width: c.width, Spacing: 1, Noise: 0.02, Jitter: 0.3, Seed: 1})
		s := gapflush.DefaultSeam("long zone", j.Path)
		s.Radius, s.Face, s.Window = [2]float64{1.5, 1.5}, [2]float64{2.5, c.to}, 300
		for _, st := range measure(t, j.Mesh, s, gapflush.Settings{}).Stations {
			require.Equal(t, c.state, st.State, "%v: %s", c, st.Why)
			if c.state == gapflush.Measured {
				require.InDelta(t, 4, st.Gap.V, 1.5*st.Gap.U)
				require.InDelta(t, 0.5, st.Flush.V, 1.5*st.Flush.U)
				continue
			}
			why, do := st.Reason()
			require.Contains(t, why, "reaches farther than the panel goes on as one face")
			require.Contains(t, do, "shorter zone (face)")
		}
	}
}
