package gapflush_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// A scan without noise that was smoothed shows nothing of the filter but on the rolls: they begin up to 0.4 mm behind the true shoulders,
// which where the faces lie at an angle moves the flush, too. The truth is the generator's formula.
func TestSmoothedWithoutNoise(t *testing.T) {
	n, inside, gaps := 0, 0, 0
	for seed := uint64(1); seed <= 10; seed++ {
		seen := []float64{0, 80, 65}[seed%3] * math.Pi / 180
		trial := bodywork.Drawn(bodywork.DrawnOptions{Radius: [2]float64{1, 3}, Spacing: 0.6, Length: 200, Seen: seen}, seed)
		trial.Scan = bodywork.Smoothed(trial.Scan, 0.5, 1+int(seed%6))
		for _, st := range tried(t, trial).Stations {
			if st.Flush.OK {
				n++
				e := math.Abs(st.Flush.V - trial.Flush)
				require.LessOrEqual(t, e, 2*st.Flush.U, "seed %d, station %d", seed, st.Index)
				if e <= st.Flush.U {
					inside++
				}
			}
			if st.Gap.OK {
				gaps++
				require.InDelta(t, trial.Gap, st.Gap.V, 2*st.Gap.U, "seed %d, station %d", seed, st.Index)
			}
		}
	}
	require.GreaterOrEqual(t, float64(inside), 0.95*float64(n))
	require.GreaterOrEqual(t, gaps, 60)
}

// Where panels overlap the end of the one stands above the other's roll, as a web would stand that leaves it: no roll was found then,
// and a chamfer, which was, had every station's vote. The truth is the generator's.
func TestPanelAboveARoll(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		j := bodywork.NewJoint(bodywork.JointOptions{
			Edge: [2]bodywork.JointEdge{
				{Form: bodywork.Round, Radius: 1.3, Seen: math.Pi / 2, Wall: 1},
				{Form: bodywork.Round, Radius: 1.7, Seen: math.Pi / 2, Wall: 1},
			},
			Gap: -0.7, Flush: -3.2, Angle: 0.1, Length: 200, Width: 40, Spacing: 0.8, Noise: 0.01, Jitter: 0.3, Seed: seed,
		})
		s := gapflush.DefaultSeam("overlap", j.Path)
		r, err := gapflush.Measure(context.Background(), j.Mesh, nil, s, gapflush.Settings{}, nil)
		require.NoError(t, err)
		for _, st := range r.Stations {
			require.Equal(t, gapflush.Measured, st.State, "station %d: %s", st.Index, st.Why)
			require.Equal(t, [2]gapflush.EdgeKind{}, [2]gapflush.EdgeKind{st.Side[0].Edge, st.Side[1].Edge})
			require.InDelta(t, j.Gap, st.Gap.V, 1.5*st.Gap.U, "seed %d, station %d", seed, st.Index)
			require.InDelta(t, j.Flush, st.Flush.V, 1.5*st.Flush.U, "seed %d, station %d", seed, st.Index)
		}
	}
}
