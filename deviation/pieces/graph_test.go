package pieces

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// even returns the information of six motions each known to sigma mm, turns at a lever of 1 m.
func even(sigma float64) mat6 {
	var m mat6
	for k := range 6 {
		m[k][k] = 1 / float64(sigma*sigma)
		if k >= 3 {
			m[k][k] *= 1e6
		}
	}
	return m
}

func shift(x float64) geom.Rigid {
	g := geom.Identity()
	g.T.X = x
	return g
}

func newGraph(n int, links ...link) *graph {
	g := &graph{poses: make([]geom.Rigid, n), fixed: make([]bool, n), links: links, lever: 1000}
	for k := range g.poses {
		g.poses[k] = geom.Identity()
	}
	g.fixed[0] = true
	return g
}

// Three distances that do not quite agree: d12 1000.10, d23 1000.20, d13 2000.00, each 0.1: x2 1000.00, x3 2000.10,
// residuals 0.1, 0.1, −0.1, chi-square 3.00 on 1 degree of freedom, p 0.083 (a worked example of least
// squares on a line, by hand).
func TestThreeDistances(t *testing.T) {
	along := func(d float64, a, b int) link {
		l := link{a: b, b: a, bFromA: shift(d), rank: 1} // carries b's frame into a's
		l.information[0][0] = 1 / (0.1 * 0.1)
		return l
	}
	g := newGraph(3, along(1000.10, 0, 1), along(1000.20, 1, 2), along(2000.00, 0, 2))
	g.solve()
	require.InDelta(t, 1000.00, g.poses[1].T.X, 1e-9)
	require.InDelta(t, 2000.10, g.poses[2].T.X, 1e-9)
	for k, want := range []float64{-0.1, -0.1, 0.1} { // as adjusted less as measured
		e, _ := g.error6(&g.links[k])
		require.InDelta(t, want, e[0], 1e-9)
	}
	require.InDelta(t, 3.00, g.solution.chi2, 1e-9)
	require.Equal(t, 1, g.solution.dof)
	require.InDelta(t, 0.083, ChiSquareTail(g.solution.chi2, 1), 5e-4)
	require.Len(t, g.solution.loose, 10, "nothing holds the other five motions of the two pieces")
	require.InDelta(t, 0.1*math.Sqrt(2.0/3), math.Sqrt(g.solution.covariance[0][0]), 1e-9)

	c := g.rounds()
	require.Len(t, c, 1)
	require.InDelta(t, 0.30, c[0].Gap, 1e-9)
	require.InDelta(t, 2*0.1*math.Sqrt(3), c[0].U, 1e-9)
	require.InDelta(t, 3.00, c[0].Chi2, 1e-6)
	require.Equal(t, 1, c[0].DoF)
	require.True(t, c[0].Closes)
}

// In a round of n equal overlaps, each known to s, chaining leaves the last piece off by s √(n−1) and
// the whole gap, s √n, on the last overlap; spread, the worst piece is off by s √(k (n−k)/n) at k = n/2 and no overlap
// by more than s/√n (the bridge of a random walk; Lu & Milios 1997, loops). For six: 1.83 and 6 times.
func TestLoopSpreadsItsError(t *testing.T) {
	const n, runs, s = 6, 4000, 0.1
	rng := rand.New(rand.NewPCG(5, 6))
	var chain, joined, chainGap, joinedGap float64
	for range runs {
		var links []link
		at := 0.0
		for k := range n {
			e := s * rng.NormFloat64()
			at += e
			if k == n-2 {
				chain += at * at // piece 5, chained from piece 0
			}
			a := (k + 1) % n
			links = append(links, link{a: a, b: k, bFromA: shift(e), information: even(s), rank: 6})
		}
		chainGap += at * at
		g := newGraph(n, links...)
		g.solve()
		joined += g.poses[n/2].T.X * g.poses[n/2].T.X
		e, _ := g.error6(&g.links[n-1])
		joinedGap += e[0] * e[0]
	}
	rms := func(sum float64) float64 { return math.Sqrt(sum / runs) }
	require.InDelta(t, s*math.Sqrt(n-1), rms(chain), 0.03*s*math.Sqrt(n-1))
	require.InDelta(t, s*math.Sqrt(n/4.0), rms(joined), 0.03*s*math.Sqrt(n/4.0))
	require.InDelta(t, math.Sqrt(4*(n-1)/float64(n)), rms(chain)/rms(joined), 0.06)
	require.InDelta(t, n, rms(chainGap)/rms(joinedGap), 0.01)
}

// The covariance that the graph states is that of its errors, in six motions, with unequal overlaps.
func TestStatedCovarianceIsThatOfTheErrors(t *testing.T) {
	const runs = 2000
	rng := rand.New(rand.NewPCG(7, 8))
	sigmas := []float64{0.05, 0.2, 0.1, 0.4}
	centres := []geom.Vec{{X: 500}, {X: 500, Y: 800}, {Y: 900, Z: 300}, {Y: -200}}
	var sum, chi2 float64
	var stated float64
	for range runs {
		var links []link
		for k, s := range sigmas {
			var x vec6
			for i := range x {
				x[i] = s * rng.NormFloat64()
				if i >= 3 {
					x[i] /= 1000
				}
			}
			links = append(links, link{a: (k + 1) % 4, b: k, centre: centres[k], bFromA: moved(geom.Identity(), &x, centres[k]), information: even(s), rank: 6})
		}
		g := newGraph(4, links...)
		g.solve()
		c, free := g.covarianceOf(2, centres[2])
		require.Equal(t, [6]bool{}, free)
		stated = c[2][2]
		e := g.poses[2].Apply(centres[2]).Sub(centres[2])
		sum += e.Z * e.Z
		chi2 += g.solution.chi2
		require.Equal(t, 6, g.solution.dof)
	}
	require.InDelta(t, 1, sum/runs/stated, 0.1)
	require.InDelta(t, 6, chi2/runs, 0.25)
}

// A round that is off by more than its overlaps allow is named; one within is not.
func TestCycleThatDoesNotCloseIsNamed(t *testing.T) {
	links := func(off float64) []link {
		return []link{
			{a: 1, b: 0, bFromA: shift(0), information: even(0.05), rank: 6},
			{a: 2, b: 1, bFromA: shift(0), information: even(0.05), rank: 6},
			{a: 3, b: 2, bFromA: shift(0), information: even(0.05), rank: 6},
			{a: 0, b: 3, bFromA: shift(off), information: even(0.05), rank: 6},
		}
	}
	good := newGraph(4, links(0.1)...)
	good.solve()
	require.True(t, good.rounds()[0].Closes)
	bad := newGraph(4, links(0.8)...)
	bad.solve()
	c := bad.rounds()
	require.Len(t, c, 1)
	require.False(t, c[0].Closes)
	require.InDelta(t, 0.8, c[0].Gap, 1e-9)
	require.InDelta(t, 0.2, c[0].U, 1e-9)
	require.ElementsMatch(t, []int{0, 1, 2, 3}, c[0].Nodes)
	require.InDelta(t, 0.2, math.Abs(bad.poses[1].T.X), 1e-9, "a quarter of the gap on each overlap")
}
