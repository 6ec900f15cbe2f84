package gapflush_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// A roll of 2 mm that turns by 80 degrees and runs on straight for 4 mm goes on toward the other panel by
// cos 80° of a millimetre for each of them: 3 mm under the circle's lowest place, where a nose lies at most, by 0.6 mm and more,
// of each side. The circle alone would say 4 mm where the metal leaves 2.9 mm. One that turns by 90 degrees leaves 4.0000.
func TestAWallThatLeansTowardTheOtherPanelIsNotPassedOver(t *testing.T) {
	const radius = 2.0
	for _, turn := range []float64{80, 90} {
		end := turn * math.Pi / 180
		m := hems(2+radius, radius*end+4, func(s float64) (y, h float64) {
			on := min(max(s/radius, 0), end)
			sin, cos := math.Sincos(on)
			on = s - radius*on // behind the roll, or beyond it
			return radius*sin + on*cos, radius*(cos-1) - on*sin
		}, func(float64) (along, across float64) { return 0.8, 0.8 })
		s := gapflush.DefaultSeam("walls", []geom.Vec{{X: 10}, {X: 110}})
		s.Every, s.Radius = 10, [2]float64{radius, radius}
		for _, st := range measure(t, m, s, gapflush.Settings{Noise: 0.02}).Stations {
			require.InDelta(t, 0, st.Flush.V, 1.5*st.Flush.U)
			if turn == 90 {
				require.Equal(t, gapflush.Measured, st.State, st.Why)
				require.InDelta(t, 4, st.Gap.V, 1.5*st.Gap.U)
				continue
			}
			require.Equal(t, gapflush.NoseUnseen, st.State)
			why, do := st.Reason()
			require.Contains(t, why, "goes on below its roll, straight and toward the other panel")
			require.NotEmpty(t, do)
		}
	}
}
