package drift

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Cells on a line hang together as a walk and as a wave say, by their distance: exp(-d/reach) and exp(-(d/reach)²).
func TestCellsHangTogetherByTheirDistance(t *testing.T) {
	at := []float64{0, 120, 500, 1300}
	var cells []cell
	for _, x := range at {
		cells = append(cells, cell{at: geom.Vec{X: x}})
	}
	f := Frame{Size: [3]float64{2000, 800, 100}}
	all, err := togetherOf(context.Background(), cells, &f, false, 1)
	require.NoError(t, err)
	some, err := togetherOf(context.Background(), cells, &f, true, 1)
	require.NoError(t, err)
	for k, share := range reaches {
		reach := share * 2000
		for i := range at {
			for j := range i {
				d := (at[i] - at[j]) / reach
				require.InDelta(t, math.Exp(-d), all.as[rough][k][i*len(at)+j], 1e-14)
				require.InDelta(t, math.Exp(-d*d), all.as[smooth][k][i*len(at)+j], 1e-14)
			}
		}
		for kind := range some.as {
			if k == ownReach[kind] {
				require.Equal(t, all.as[kind][k], some.as[kind][k])
			} else {
				require.Nil(t, some.as[kind][k], "it is dear and not asked for")
			}
		}
	}
	require.InDelta(t, 0.25*2000, all.choice(smooth, 2, 3).reach, 1e-9)
	require.Zero(t, all.alone().ratio)
}
