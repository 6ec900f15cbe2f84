package gapflush

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// twoRolls is a station with known uncertainties of faces and edges.
func twoRolls(gap, flush, r float64) [2]sideState {
	var s [2]sideState
	for k := range s {
		y := -gap/2 - r
		s[k].face = face{y0: y - 7.5, h0: flush * float64(k), cov: [2][2]float64{{1e-4, 1e-6}, {1e-6, 4e-6}}}
		s[k].edge = edge{kind: Round, s: y, r: r, found: true, seen: 1.6, data: [2][2]float64{{4e-4, -2e-4}, {-2e-4, 3e-4}}, prior: [2]float64{-0.03, 0.05}}
	}
	return s
}

// trade.md 1.1: the shortest distance of two rolls is hypot(dx, dz) - r1 - r2.
func TestFeelerInClosedForm(t *testing.T) {
	for _, c := range []struct{ gap, flush float64 }{{4, -0.8}, {4, 0}, {1, 0.5}, {2, 1}} {
		s := twoRolls(c.gap, c.flush, 1)
		g := evaluate(&s, &[2][5]float64{}, A)
		f := feeler(&g.edges[A], &g.edges[B], g.edges[A].tangent)
		require.InDelta(t, math.Hypot(c.gap+2, c.flush)-2, f.length, 1e-12)
		require.InDelta(t, c.gap, g.gap, 1e-12)
		e := f.along(&g.edges[A], &g.edges[B])
		require.InDelta(t, c.flush/math.Hypot(c.gap+2, c.flush), e.H, 1e-9)
	}
}

// The stated scatter of the feeler is that of a simulation which moves both sides
// by their covariances; a feeler held steeply hangs on the flush, where the gap does not.
func TestStatedScatterOfTheFeeler(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct{ gap, flush float64 }{{4, 0}, {1, 2.5}, {-0.5, 4}} {
		s := twoRolls(c.gap, c.flush, 1)
		g := evaluate(&s, &[2][5]float64{}, A)
		f := feeler(&g.edges[A], &g.edges[B], g.edges[A].tangent)
		require.Positive(t, f.length)
		stated := feelerU(movedBy(&s, A), A, &g, &f, nil)
		all := causes(&s)
		sum := 0.0
		const trials = 4000
		for range trials {
			var d [2][5]float64
			for _, cause := range all {
				by := rng.NormFloat64()
				for i, v := range cause.d {
					d[cause.side][i] += by * v
				}
			}
			moved := evaluate(&s, &d, A)
			off := feeler(&moved.edges[A], &moved.edges[B], moved.edges[A].tangent).length - f.length
			sum += off * off
		}
		require.InEpsilon(t, 2*math.Sqrt(sum/trials), stated, 0.06, "gap %g, flush %g", c.gap, c.flush)
	}
}
