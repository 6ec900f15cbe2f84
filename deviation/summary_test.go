package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/deviation/verdict"
)

var wide = verdict.Tolerance{Lo: math.Inf(-1), Hi: math.Inf(1)}

func fieldOf(x []float64) *Field { return &Field{Deviation: x, State: make([]State, len(x))} }

// Michelso, NIST StRD univariate summary statistics: speed of light, (299 + x/100) thousand km/s.
var michelso = []float64{
	85, 74, 90, 107, 93, 85, 95, 98, 98, 88, 100, 98, 93, 65, 76, 81, 100, 100, 96, 96, 96, 94, 96, 94, 88, 80, 85, 88, 90, 84, 83, 79, 81, 88, 88,
	83, 80, 79, 76, 80, 88, 88, 88, 86, 72, 72, 62, 86, 97, 95, 88, 91, 85, 87, 84, 84, 85, 84, 84, 84, 89, 81, 81, 82, 80, 77, 76, 74, 75, 76,
	91, 92, 89, 86, 88, 72, 84, 85, 85, 78, 89, 84, 78, 81, 76, 81, 79, 81, 82, 85, 87, 87, 81, 74, 81, 94, 95, 80, 81, 87,
}

// Mavro, NIST StRD: transmittance of a filter, 2 + x/100000.
var mavro = []float64{
	180, 170, 180, 190, 180, 170, 150, 140, 150, 150, 170, 180, 180, 190, 190, 210, 200, 160, 140, 130, 130, 150, 150, 160, 150, 140, 130, 140, 150,
	140, 150, 160, 150, 160, 190, 200, 200, 210, 220, 230, 240, 250, 270, 260, 260, 260, 270, 260, 250, 240,
}

// alternating is NumAcc2 to 4: c, then 500 times c - 0.1 and c + 0.1.
func alternating(c, low, high float64) []float64 {
	x := []float64{c}
	for range 500 {
		x = append(x, low, high)
	}
	return x
}

// Certified means and standard deviations: NIST Statistical Reference Datasets,
// univariate summary statistics.
func TestFiguresReachNISTsCertifiedValues(t *testing.T) {
	light := make([]float64, len(michelso))
	for i, x := range michelso {
		light[i] = 299 + x/100
	}
	filter := make([]float64, len(mavro))
	for i, x := range mavro {
		filter[i] = 2 + x/100000
	}
	for _, c := range []struct {
		name     string
		x        []float64
		mean, sd float64
		// 13 digits; less where the data themselves, rounded to float64, leave fewer.
		meanWithin, sdWithin float64
	}{
		{"Michelso", light, 299.852400000000, 0.0790105478190518, 1e-12, 1e-13},
		{"Mavro", filter, 2.00185600000000, 0.000429123454003053, 1e-14, 1e-15},
		{"NumAcc1", []float64{10000001, 10000003, 10000002}, 10000002, 1, 0, 0},
		{"NumAcc2", alternating(1.2, 1.1, 1.3), 1.2, 0.1, 1e-15, 1e-15},
		{"NumAcc3", alternating(1000000.2, 1000000.1, 1000000.3), 1000000.2, 0.1, 1e-9, 1e-9},
		{"NumAcc4", alternating(10000000.2, 10000000.1, 10000000.3), 10000000.2, 0.1, 1e-8, 1e-8},
	} {
		equal := make([]float64, len(c.x))
		for i := range equal {
			equal[i] = 0.37
		}
		s := Summarise(fieldOf(c.x), equal, wide)
		for _, f := range []Figures{s.Unweighted, s.AreaWeighted} {
			require.True(t, f.OK, c.name)
			require.InDelta(t, c.mean, f.Mean, c.meanWithin+1e-15*c.mean, c.name)
			require.InDelta(t, c.sd, f.SD, c.sdWithin+1e-15, c.name)
		}
	}
}

// By hand: 1, 2, 3, 4 with tolerance 2 to 3.
func TestFiguresByHand(t *testing.T) {
	f := fieldOf([]float64{4, 99, 1, 3, 2})
	f.State[1], f.Deviation[1] = OffEdge, 0
	s := Summarise(f, nil, verdict.Tolerance{Lo: 2, Hi: 3})
	require.Equal(t, [4]int{4, 0, 0, 1}, s.Count)
	require.False(t, s.AreaWeighted.OK)
	u := s.Unweighted
	require.Equal(t, 2.5, u.Mean)
	require.InDelta(t, math.Sqrt(5.0/3), u.SD, 1e-15)
	require.InDelta(t, math.Sqrt(30.0/4), u.RMS, 1e-15)
	require.Equal(t, []float64{1, 4, 0.5}, []float64{u.Min, u.Max, u.ShareInTolerance})
	// Type 7 of Hyndman & Fan 1996: position share*(n-1) from the first.
	require.InDeltaSlice(t, []float64{1.075, 2.5, 3.925}, []float64{u.P025, u.P50, u.P975}, 1e-15)
}

// Weights by hand: values 0, 1, 3 stand for 1, 2 and 1 of 4. Mean (2+3)/4,
// spread 25/16 + 2/16 + 49/16, divisor 4 - 6/4; middles of the shares at 1/8,
// 1/2 and 7/8.
func TestWeightedFiguresByHand(t *testing.T) {
	s := Summarise(fieldOf([]float64{3, 0, 1}), []float64{1, 1, 2}, verdict.Tolerance{Lo: 0, Hi: 1})
	w := s.AreaWeighted
	require.Equal(t, 1.25, w.Mean)
	require.InDelta(t, math.Sqrt((25.0/16+2.0/16+49.0/16)/2.5), w.SD, 1e-15)
	require.InDelta(t, math.Sqrt(11.0/4), w.RMS, 1e-15)
	require.Equal(t, []float64{0, 1, 3}, []float64{w.P025, w.P50, w.P975})
	require.Equal(t, 0.75, w.ShareInTolerance)
	got := weightedPercentiles([]sample{{0, 1}, {1, 2}, {3, 1}}, [3]float64{0.3125, 0.6875, 0.8})
	require.InDeltaSlice(t, []float64{0.5, 2, 2.6}, got[:], 1e-15)
}

func TestFiguresWithoutPoints(t *testing.T) {
	require.Equal(t, Summary{Count: [4]int{0, 2, 0, 0}}, Summarise(&Field{Deviation: []float64{0, 0}, State: []State{BeyondReach, BeyondReach}}, []float64{1, 1}, wide))
	// Points of no area have unweighted figures only.
	s := Summarise(fieldOf([]float64{1}), []float64{0}, wide)
	require.True(t, s.Unweighted.OK)
	require.False(t, s.AreaWeighted.OK)
	require.Zero(t, s.Unweighted.SD)
}

// RMS² = mean² + population variance; a weight of k counts like k equal points
// in mean, RMS and share; the order of points changes no bit.
func TestFiguresProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		n := rapid.IntRange(2, 60).Draw(t, "n")
		var x, w, repeated []float64
		for range n {
			k := 1 + r.IntN(4)
			v := 0.3 + r.NormFloat64()
			x, w = append(x, v), append(w, float64(k))
			for range k {
				repeated = append(repeated, v)
			}
		}
		tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
		s := Summarise(fieldOf(x), w, tol)
		u := s.Unweighted
		pop := u.SD * u.SD * float64(n-1) / float64(n)
		require.InDelta(t, u.RMS*u.RMS, u.Mean*u.Mean+pop, 1e-12)
		many := Summarise(fieldOf(repeated), nil, tol).Unweighted
		require.InDelta(t, many.Mean, s.AreaWeighted.Mean, 1e-12)
		require.InDelta(t, many.RMS, s.AreaWeighted.RMS, 1e-12)
		require.InDelta(t, many.ShareInTolerance, s.AreaWeighted.ShareInTolerance, 1e-12)
		require.LessOrEqual(t, s.AreaWeighted.P025, s.AreaWeighted.P50)
		require.LessOrEqual(t, s.AreaWeighted.P50, s.AreaWeighted.P975)

		order := r.Perm(n)
		px, pw := make([]float64, n), make([]float64, n)
		for i, k := range order {
			px[i], pw[i] = x[k], w[k]
		}
		require.Equal(t, s, Summarise(fieldOf(px), pw, tol))
	})
}
