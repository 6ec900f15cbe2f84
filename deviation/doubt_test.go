package deviation

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// U of a flat sheet's points from a turn about the Y axis through (10, 0, 0) that is known
// to 1e-4 rad and a shift along z known to 0.02 mm, independent: the point at x
// moves by (x - 10)·1e-4 along z. Shifts along the sheet and the turn in it do
// nothing. By hand, JCGM 100:2008, 5.1.
func TestAPlacementActsAlongTheNormal(t *testing.T) {
	p := &Placing{Centre: geom.Vec{X: 10}}
	p.Covariance[0][0], p.Covariance[1][1], p.Covariance[5][5] = 1, 1, 1
	p.Covariance[2][2], p.Covariance[4][4] = 0.02*0.02, 1e-8
	scan := plane(-90, 90, 0.1, 18)
	f, err := Measure(context.Background(), scan, surfaceOf(t, plane(-300, 300, 0, 6)), Settings{Reach: 10, Threads: 2, Doubts: true, Placing: p}, nil)
	require.NoError(t, err)
	require.Nil(t, f.U, "no U before the noise is known")
	f.Expand(0.03, 2)
	for i, v := range scan.Vertices {
		arm := (v.X - 10) * 1e-4
		got, ok := f.Value(i)
		require.True(t, ok)
		require.InDelta(t, 2*math.Sqrt(0.03*0.03+0.02*0.02+arm*arm), got.U, 1e-8)
	}
	// A covariance that ties the shift to the turn: at x = 10 - 200 they cancel.
	p.Covariance[2][4], p.Covariance[4][2] = 0.02*1e-4, 0.02*1e-4
	f, err = MeasurePoints(context.Background(), []geom.Vec{{X: 210, Y: 7, Z: 0.1}, {X: -190, Y: -4, Z: 0.1}}, make([]geom.Vec, 2), surfaceOf(t, plane(-300, 300, 0, 6)), Settings{Reach: 10, Doubts: true, Placing: p}, nil)
	require.NoError(t, err)
	f.Expand(0, 1)
	require.InDelta(t, 0, f.U[0], 1e-6, "z falls as x rises where the part turns about +y")
	require.InDelta(t, 2*0.04, f.U[1], 1e-6)
}

// A scan that may slide along x has an uncertainty where the reference runs
// along x, and none where its normal has a part along it of more than a fiftieth.
func TestAFreeSlideLeavesNoUWhereItShows(t *testing.T) {
	ref, scan := bodywork.CylinderPatch(500, 0.4, 300, 5), bodywork.CylinderPatch(500.2, 0.35, 280, 7)
	across := &Placing{Free: []Free{{Shift: geom.Vec{X: 1}, Sigma: 10, Words: "slide along X"}}}
	along := &Placing{Free: []Free{{Shift: geom.Vec{Y: 1}, Sigma: 10, Words: "slide along Y"}}}
	for name, p := range map[string]*Placing{"across": across, "along": along} {
		f, err := Measure(context.Background(), scan, surfaceOf(t, ref), Settings{Reach: 10, Threads: 2, Doubts: true, Placing: p}, nil)
		require.NoError(t, err)
		f.Expand(0.02, 2)
		without := 0
		for i, v := range scan.Vertices {
			if f.State[i] != Measured {
				continue
			}
			got, hasU := f.Value(i)
			require.True(t, got.OK)
			nx := v.X / 500.2
			switch {
			case name == "along":
				require.True(t, hasU)
				require.InDelta(t, 0.04, got.U, 0.01)
			case math.Abs(nx) > 0.021:
				require.False(t, hasU, "x %v", v.X)
				require.Equal(t, "slide along X", f.WhyFree(i))
				without++
			case math.Abs(nx) < 0.019:
				require.True(t, hasU, "x %v", v.X)
				require.GreaterOrEqual(t, got.U, 2*10*math.Abs(nx)-1e-3, "a small part of the slide counts")
			}
		}
		s := Summarise(f, nil, verdict.Tolerance{Lo: -1, Hi: 1})
		require.GreaterOrEqual(t, s.U.Without, without)
		if name == "across" {
			require.Greater(t, without, 1000)
			require.Contains(t, f.Notes[len(f.Notes)-1], "because the placement may slide along X")
		}
	}
}

// Facets of 60 mm on a radius of 500 mm lie up to h²/8R = 0.9 mm inside it, and
// U grows by that in their middle and not at their corners. Analytic.
func TestTheChordIsInU(t *testing.T) {
	ref, scan := bodywork.CylinderPatch(500, 0.6, 300, 60), bodywork.CylinderPatch(500, 0.5, 280, 4)
	f, err := Measure(context.Background(), scan, surfaceOf(t, ref), Settings{Reach: 10, Threads: 2, Doubts: true}, nil)
	require.NoError(t, err)
	f.Expand(0, 2)
	most := 0.0
	for i := range scan.Vertices {
		got, hasU := f.Value(i)
		require.True(t, hasU)
		require.LessOrEqual(t, math.Abs(got.V), got.U+1e-3, "the deviation is 0; what is read is the chord")
		require.InDelta(t, got.V, float64(f.Budget[i].Chord), 0.02)
		most = max(most, float64(f.Budget[i].Chord))
	}
	require.InDelta(t, 60*60/8.0/500, most, 0.02)
}
