package worth_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/deviation/worth"
)

func TestNothingTells(t *testing.T) {
	g := worth.Estimate(nil, worth.Settings{Noise: 0.03, Size: 4000})
	require.False(t, g.OK)
	require.Contains(t, g.Why, "no known length")
	require.False(t, g.At(1000).OK)
	require.Zero(t, g.ScalePPM())
	uses := g.Uses(verdict.Value{V: 0.1, OK: true})
	require.True(t, uses[0].Good.OK, "gaps have their own U")
	require.InDelta(t, 0.1, uses[0].Good.V, 1e-12)
	require.False(t, uses[2].Good.OK)
	require.NotEmpty(t, uses[2].Why)
	// A length of 300 mm says nothing of one of 4 m.
	g = worth.Estimate([]worth.Teller{{Kind: worth.Length, Error: 0.01, Over: 300}}, worth.Settings{Size: 4000})
	require.False(t, g.OK)
	require.Contains(t, g.Why, "300 mm is less than a third of the part's 4000 mm")
}

// By hand: 0.4 mm over 2 m and 0.3 over 1 m are 0.2 and 0.3 mm per metre, root mean square 0.255, times 4.303 (Student's t,
// 2 degrees of freedom): 1.097 mm per metre; over 4 m 4.39 mm more than the noise's 2·√2·0.03 = 0.085.
func TestTwoTellers(t *testing.T) {
	g := worth.Estimate([]worth.Teller{{Error: 0.4, U: 0.1, Over: 2000}, {Error: -0.3, U: 0.1, Over: 1000}}, worth.Settings{Noise: 0.03, Size: 3000})
	require.True(t, g.OK)
	require.InDelta(t, 1.097, g.PerMetre, 0.001)
	require.InDelta(t, 0.0849, g.A, 1e-4)
	require.InDelta(t, 0.0849+4*1.097, g.At(4000).V, 0.005)
	require.InDelta(t, 1000/1.097, g.K(), 1)
	require.InDelta(t, 548.5, g.ScalePPM(), 0.5)
	uses := g.Uses(verdict.Value{})
	require.InDelta(t, 0.0849+0.01097, uses[0].Good.V, 1e-4)
	require.InDelta(t, 0.0849+1.097, uses[1].Good.V, 1e-3)
	require.InDelta(t, 0.0849+3.291, uses[2].Good.V, 4e-3)
}

// An error that reads nothing by luck counts as what it is known to.
func TestLuckIsNoAccuracy(t *testing.T) {
	g := worth.Estimate([]worth.Teller{{Error: 0, U: 0.2, Over: 1000}}, worth.Settings{Size: 1000})
	require.InDelta(t, 12.706*0.1, g.PerMetre, 1e-3)
}

// Of scanners whose error over a length is normal, the next error lies within what was told in at least 19 of 20,
// however few told (Student's t by its definition).
func TestTheNextErrorLiesWithin(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{1, 2, 3, 8} {
		in := 0
		const runs = 4000
		for range runs {
			var list []worth.Teller
			for range n {
				over := 1500 + 1500*random.Float64()
				list = append(list, worth.Teller{Error: 0.3 * over / 1000 * random.NormFloat64(), Over: over})
			}
			g := worth.Estimate(list, worth.Settings{Size: 3000})
			if math.Abs(0.3*random.NormFloat64()) <= g.PerMetre {
				in++
			}
		}
		require.InDelta(t, 0.95, float64(in)/runs, 0.012, "%d tellers", n)
	}
}

// On a body that is gone round errors grow up to its width: by hand 2 mm over 4 m are 2 mm over the width of 1.6 m, 1.25 mm per metre, times 12.706.
func TestGrowsUpToTheSpan(t *testing.T) {
	g := worth.Estimate([]worth.Teller{{Error: 2, Over: 4000}}, worth.Settings{Size: 4000, Span: 1600})
	require.InDelta(t, 12.706*1.25, g.PerMetre, 1e-9)
	require.InDelta(t, 12.706*2, g.At(4000).V, 1e-9)
	require.InDelta(t, 12.706*2, g.At(1600).V, 1e-9)
	require.InDelta(t, 12.706, g.At(800).V, 1e-9)
}

// A displacement in space of 3 mm has three components, root mean square 3/√3, that are three draws: Student's t of 3 is 3.182.
func TestADisplacementIsThreeDraws(t *testing.T) {
	g := worth.Estimate([]worth.Teller{{Error: 3, Over: 1000, Share: 1 / math.Sqrt(3), Draws: 3}}, worth.Settings{Size: 1000})
	require.InDelta(t, 3.182*math.Sqrt(3), g.PerMetre, 1e-9)
	require.Equal(t, 3.182, g.Factor)
}

// What a length is judged by does not hold what the length itself shows.
func TestWithoutOneTeller(t *testing.T) {
	list := []worth.Teller{{Error: 50, Over: 2000}, {Error: 0.4, Over: 2000}, {Error: 0.2, Over: 2000, Not: "set aside"}}
	s := worth.Settings{Noise: 0.03, Size: 2400}
	g := worth.Estimate(list, s)
	require.Equal(t, "set aside", g.Tellers[2].Why)
	require.Equal(t, 2, g.Used)
	others := g.Without(0)
	require.Equal(t, worth.Estimate(list[1:], s), others)
	require.InDelta(t, 12.706*0.2, others.PerMetre, 1e-9)
	alone := worth.Estimate(list[:1], s)
	none := alone.Without(0)
	require.False(t, none.OK)
	require.Zero(t, none.Grown(1000))
}

// Where an error has no number, as of a piece that may slide, nothing over a length has one; what lies close together keeps what is known.
func TestAnErrorWithoutANumber(t *testing.T) {
	g := worth.Estimate([]worth.Teller{
		{Kind: worth.Overlap, Name: "overlap of a and b", U: 0.1, Over: 3000},
		{Kind: worth.Overlap, Name: "place of b", Over: 3000, Not: "a motion of it is not held", Unheld: true},
	}, worth.Settings{Noise: 0.03, Size: 3000})
	require.False(t, g.OK)
	require.Equal(t, "the place of b is not known: a motion of it is not held", g.Why)
	require.False(t, g.At(2000).OK)
	require.Zero(t, g.Grown(2000))
	for _, u := range g.Uses(verdict.Value{}) {
		require.False(t, u.Good.OK)
		require.Equal(t, g.Why, u.Why)
	}
	require.InDelta(t, 12.706*0.05/3*500, g.ScalePPM(), 1e-9)
}
