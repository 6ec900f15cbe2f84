package gapflush_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Panels scanned from both sides: a sheet 2 mm behind each, its faces turned inward as they should be, begins
// behind the edges. Normals then leave no mean, and nearly every station was refused, though the reference says which
// side is outside. The truth is the generator's.
func TestPanelsScannedFromBothSides(t *testing.T) {
	seen := 0
	for seed := uint64(40); seed < 52; seed += 2 { // those with a reference
		trial := bodywork.Drawn(bodywork.DrawnOptions{Radius: [2]float64{1.2, 1.8}, Noise: 0.02, Spacing: 0.8, Length: 200}, seed)
		inner := bodywork.Mapped(bodywork.Without(trial.Scan, func(c geom.Vec) bool { return math.Abs(c.X) < trial.Gap/2+3 }), func(p geom.Vec) geom.Vec {
			return p.Sub(geom.Vec{Z: 2})
		})
		turned := &mesh.Mesh{Vertices: inner.Vertices}
		for _, f := range inner.Faces {
			turned.Faces = append(turned.Faces, [3]uint32{f[0], f[2], f[1]})
		}
		trial.Scan = bodywork.Together(trial.Scan, turned)
		for _, st := range tried(t, trial).Stations {
			if st.Gap.OK {
				seen++
				require.LessOrEqual(t, math.Abs(st.Gap.V-trial.Gap), 3*st.Gap.U, "seed %d, station %d", seed, st.Index)
				require.LessOrEqual(t, math.Abs(st.Flush.V-trial.Flush), 3*st.Flush.U, "seed %d, station %d", seed, st.Index)
			}
		}
	}
	require.GreaterOrEqual(t, seen, 40, "of 48 stations")
}

// One panel's faces are turned round, or both: which it is tells what to do, and none of it is a missing panel or a path that lies elsewhere.
func TestOnePanelTurnedRoundIsSaid(t *testing.T) {
	m := hems(2+2, 2*math.Pi, func(s float64) (y, h float64) {
		sin, cos := math.Sincos(max(s, 0) / 2)
		return min(s, 0) + 2*sin, 2 * (cos - 1)
	}, func(float64) (along, across float64) { return 0.8, 0.8 })
	for i, f := range m.Faces {
		if m.Vertices[f[0]].Y > 0 {
			m.Faces[i] = [3]uint32{f[0], f[2], f[1]}
		}
	}
	s := gapflush.DefaultSeam("turned", []geom.Vec{{X: 10}, {X: 110}})
	for _, st := range measure(t, m, s, gapflush.Settings{Noise: 0.02}).Stations {
		require.Equal(t, gapflush.TwoSkins, st.State, st.Why)
		why, do := st.Reason()
		require.Contains(t, why, "opposite ways")
		require.Contains(t, do, "winding")
	}
}
