package bodywork

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Two edge rolls r = 1, centres 6.0 apart along the faces and -0.8 across:
// worked by hand, gap 6-2 = 4, feeler hypot(6, 0.8)-2 = 4.0531, flush -0.8.
func TestMeasureOfTwoRolls(t *testing.T) {
	a := CircleProfile(Point2{0, 1}, Point2{1, 0}, 1)
	b := CircleProfile(Point2{6, 0.2}, Point2{-1, 0}, 1)
	m := Measure([2]Profile{a, b}, 0)
	require.InDelta(t, 4, m.Gap, 1e-12)
	require.InDelta(t, math.Hypot(6, 0.8)-2, m.Feeler, 1e-9)
	require.InDelta(t, -0.8, m.Flush, 1e-12)
	require.InDelta(t, 0, m.Angle, 1e-12)
	require.InDelta(t, math.Pi/2, m.NoseArc[0], 1e-7)
	m = Measure([2]Profile{a, b}, 1)
	require.InDelta(t, 4, m.Gap, 1e-12)
	require.InDelta(t, 0.8, m.Flush, 1e-12)
}

func TestReferenceStationsAsDrawn(t *testing.T) {
	j, err := Van(context.Background(), Options{Size: MinSize, Seed: 1}, nil)
	require.NoError(t, err)
	lo, hi := 9.0, 0.0
	for _, s := range j.ReferenceStations() {
		lo, hi = min(lo, s.Gap), max(hi, s.Gap)
		require.InDelta(t, gapNominal, s.Gap, 1e-3, "%s %d at z %g", s.Seam, s.Index, s.P.Z)
	}
	t.Log(lo, hi)
}

func TestScanStations(t *testing.T) {
	j, err := Van(context.Background(), Options{Seed: 1}, nil)
	require.NoError(t, err)
	st, err := j.ScanStations(context.Background(), nil)
	require.NoError(t, err)
	for _, s := range st {
		t.Logf("%s %2d z %5.1f gap %.3f feeler %.3f flush %+.3f angle %+.3f nose %v seen %.0f %.0f n %v face %.2f %s %v", s.Seam, s.Index, s.P.Z, s.Gap, s.Feeler, s.Flush, s.Angle*180/math.Pi, s.NoseState, s.SeenTo[0]*57.3, s.SeenTo[1]*57.3, s.ArcPoints, s.FaceShare, s.State, s.Clear)
	}
	surf, err := j.Surface(context.Background(), nil)
	require.NoError(t, err)
	sum := map[string][4]float64{}
	for i, d := range surf {
		o := j.Origins[i]
		k := o.Part.String() + string(rune('0'+o.Panel))
		v := sum[k]
		v[0]++
		if d.Measured {
			v[1]++
			v[2] += d.Deviation * d.Deviation
			v[3] = max(v[3], math.Abs(d.Deviation))
		}
		sum[k] = v
	}
	for k, v := range sum {
		t.Log(k, v[0], v[1], math.Sqrt(v[2]/v[1]), v[3])
	}
}
