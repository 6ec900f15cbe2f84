package gapflush_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// flanged measures two rolls of 2 mm that turn by so many degrees and run on straight for so many mm. Were they to turn on to their
// noses, these would stand 4 mm apart.
func flanged(t *testing.T, turn, long float64) *gapflush.Result {
	const radius = 2.0
	end := turn * math.Pi / 180
	m := hems(2+radius, radius*end+long, func(s float64) (y, h float64) {
		on := min(max(s/radius, 0), end)
		sin, cos := math.Sincos(on)
		on = s - radius*on // behind the roll, or beyond it
		return radius*sin + on*cos, radius*(cos-1) - on*sin
	}, func(float64) (along, across float64) { return 0.8, 0.8 })
	s := gapflush.DefaultSeam("flanges", []geom.Vec{{X: 10}, {X: 110}})
	s.Every, s.Radius = 10, [2]float64{radius, radius}
	return measure(t, m, s, gapflush.Settings{Noise: 0.02})
}

// A nose is where the profile stops advancing, at most the radius and 3 mm under the shoulder. Of a roll of r = 2 mm that has turned by
// φ, r sin φ from its shoulder and r (1 - cos φ) under it, a flange leads on by cos φ toward the other panel and sin φ down for each mm. At
// 85° it reaches 5 mm under the shoulder after (5 - 2 × 0.912844) / 0.996195 = 3.186437 mm, 1.992389 + 3.186437 × 0.0871557 = 2.270105 mm
// from the shoulder: both leave 2 × (4 - 2.270105) = 3.4598 mm. A flange of 1.5 mm ends 0.130734 mm on from the roll, which leaves
// 3.7538 mm; it may go on unseen for all that the scan tells. At 90° nothing is added, and 4 mm are left.
// Ends at one height stand as far apart as a feeler finds.
func TestANoseOnAFlangeThatLeansIsFoundWhereDefined(t *testing.T) {
	for _, c := range []struct{ turn, long, gap float64 }{
		{85, 4, 3.459790}, {85, 9, 3.459790}, {85, 1.5, 3.753754},
		// sin 88° = 0.9993908, cos = 0.0348995: 3.071671 mm along it, 2.105981 from the shoulder.
		{88, 4, 3.788037},
		// sin 80° = 0.9848078, cos = 0.1736482: 3.399020 mm along it, 2.559849 from the shoulder.
		{80, 5, 2.880302},
		{90, 4, 4},
	} {
		for _, st := range flanged(t, c.turn, c.long).Stations {
			require.Equal(t, gapflush.Measured, st.State, st.Why)
			require.InDelta(t, c.gap, st.Gap.V, st.Gap.U, "%v %v", c.turn, c.long)
			require.InDelta(t, c.gap, st.Feeler.V, st.Feeler.U, "%v %v", c.turn, c.long)
			require.InDelta(t, 0, st.Flush.V, 1.5*st.Flush.U)
			if c.turn == 90 {
				continue
			}
			for k := range st.Side {
				require.True(t, st.Side[k].Flange)
				if c.long < 3 {
					require.Equal(t, gapflush.Carried, st.Side[k].NoseState)
				} else {
					require.Equal(t, gapflush.Seen, st.Side[k].NoseState, "%v %v %v", c.turn, c.long, st.GapBudget)
					require.Less(t, st.Gap.U, 0.05)
				}
			}
		}
	}
}

// A flange that leans by 20 degrees is none that a press leaves, and what sags across the gap looks like it.
func TestAWallThatLeansTowardTheOtherPanelIsNotPassedOver(t *testing.T) {
	for _, long := range []float64{2, 4} {
		for _, st := range flanged(t, 70, long).Stations {
			require.InDelta(t, 0, st.Flush.V, 1.5*st.Flush.U)
			require.Equal(t, gapflush.NoseUnseen, st.State)
			why, do := st.Reason()
			require.Contains(t, why, "goes on below its roll, straight and toward the other panel")
			require.NotEmpty(t, do)
		}
	}
}

// A chamfer is cut 1.5 mm along the face and falls by 45°; the lower ends of both facets stand 4 mm apart. Below them walls lean toward the other panel
// by 5°: 3 mm further down they reach 3 tan 5° = 0.262466 mm farther, which leaves 3.475068 mm, and a wall of 1.5 mm ends 1.5 sin 5° = 0.130734 mm
// farther, which leaves 3.738533 mm and may go on unseen. By 2° it is 3 tan 2° = 0.104762 mm. Walls that lean back, or not at all, add nothing.
func TestANoseOnAChamfersWallThatLeansIsFoundWhereDefined(t *testing.T) {
	for _, c := range []struct{ lean, long, gap float64 }{{5, 4, 3.475068}, {5, 1.5, 3.738533}, {2, 4, 3.790476}, {0, 4, 4}, {-4, 4, 4}} {
		facet := 1.5 * math.Sqrt2
		sin, cos := math.Sincos(c.lean * math.Pi / 180)
		m := hems(2+1.5, facet+c.long, func(s float64) (y, h float64) {
			switch {
			case s < 0:
				return s, 0
			case s < facet:
				return s / math.Sqrt2, -s / math.Sqrt2
			}
			return 1.5 + (s-facet)*sin, -1.5 - (s-facet)*cos
		}, func(float64) (along, across float64) { return 0.6, 0.6 })
		s := gapflush.DefaultSeam("chamfers", []geom.Vec{{X: 10}, {X: 110}})
		s.Every, s.Edges = 10, [2]gapflush.EdgeKind{gapflush.Chamfer, gapflush.Chamfer}
		for _, st := range measure(t, m, s, gapflush.Settings{Noise: 0.02}).Stations {
			require.Equal(t, gapflush.Measured, st.State, st.Why)
			require.InDelta(t, c.gap, st.Gap.V, st.Gap.U, "%v", c)
			require.InDelta(t, 0, st.Flush.V, 1.5*st.Flush.U)
			for k := range st.Side {
				if c.lean <= 0 {
					continue
				}
				require.True(t, st.Side[k].Flange, "%v", c)
				require.Equal(t, c.long > 3, st.Side[k].NoseState == gapflush.Seen, "%v", c)
				require.Greater(t, st.Feeler.V, st.Gap.V-0.01)
			}
		}
	}
}

// A hem whose radius is 3.1 mm in the mean, less at first and more toward its nose (3.1 (1 - 0.32 sin 4φ)), and which runs down square to its face from
// there: no circle is found that reaches its nose. What was seen to go on beyond the circle is not passed over, however far beside it: the noses
// stand 4 mm apart, half of which is what the place on the hem at 90° is short of the middle.
func TestAHemThatIsNotRoundIsNotCutShort(t *testing.T) {
	const r, part, parts = 3.1, 0.32, 900
	var at [parts + 1][2]float64 // toward the gap and up
	for i := range parts {
		phi := (float64(i) + 0.5) / parts * math.Pi / 2
		step := r * (1 - part*math.Sin(4*phi)) * math.Pi / 2 / parts
		at[i+1] = [2]float64{at[i][0] + step*math.Cos(phi), at[i][1] - step*math.Sin(phi)}
	}
	long := 0.0
	var along [parts + 1]float64
	for i := range parts {
		long += math.Hypot(at[i+1][0]-at[i][0], at[i+1][1]-at[i][1])
		along[i+1] = long
	}
	m := hems(2+at[parts][0], long+3, func(s float64) (y, h float64) {
		switch {
		case s < 0:
			return s, 0
		case s > long:
			return at[parts][0], at[parts][1] - (s - long)
		}
		i := 0
		for along[i+1] < s {
			i++
		}
		return at[i+1][0], at[i+1][1]
	}, func(float64) (along, across float64) { return 0.8, 0.8 })
	s := gapflush.DefaultSeam("hems", []geom.Vec{{X: 10}, {X: 110}})
	s.Every = 10
	for _, st := range measure(t, m, s, gapflush.Settings{Noise: 0.02}).Stations {
		if st.Gap.OK {
			require.InDelta(t, 4, st.Gap.V, st.Gap.U)
		} else {
			require.Contains(t, st.Why, "goes on below its roll")
		}
	}
}
