package pieces

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// tied returns four pieces about a square of 2 m, each tied to the others by four markers at every overlap, read to sigma, mm, with the pieces off by
// lost mm, and turned by as much at a sixth of their length, at each overlap alike.
func tied(random *rand.Rand, sigma, lost, length float64) *graph {
	normal := func(s float64) geom.Vec {
		return geom.Vec{X: s * random.NormFloat64(), Y: s * random.NormFloat64(), Z: s * random.NormFloat64()}
	}
	g := newGraph(4)
	for _, o := range []struct {
		a, b int
		at   geom.Vec
	}{{0, 1, geom.Vec{X: 1000}}, {1, 2, geom.Vec{X: 2000, Y: 1000}}, {2, 3, geom.Vec{X: 1000, Y: 2000}}, {0, 3, geom.Vec{Y: 1000}}, {0, 2, geom.Vec{X: 1000, Y: 1000, Z: 700}}, {1, 3, geom.Vec{X: 900, Y: 900, Z: -500}}} {
		turn := normal(lost / (bentLever * length))
		x := vec6{0, 0, 0, turn.X, turn.Y, turn.Z}
		off := moved(geom.Identity(), &x, o.at)
		off.T = off.T.Add(normal(lost))
		for range 4 {
			p := o.at.Add(normal(150))
			for _, z := range []struct {
				node int
				at   geom.Vec
			}{{o.a, p}, {o.b, off.Apply(p)}} {
				g.sights = append(g.sights, sight{node: z.node, point: len(g.points), at: z.at.Add(normal(sigma)), sigma: sigma})
			}
			g.points = append(g.points, p)
		}
	}
	g.frame()
	g.solve()
	return g
}

// Markers of one overlap are off alike where the pieces have lost their shape, so that only the rounds tell. By what they tell the stated
// covariance is that of the errors; by the markers' own disagreement it would be far less.
func TestTheRoundsTellOfLostShape(t *testing.T) {
	const runs, length = 50, 2000.0
	random := rand.New(rand.NewPCG(3, 4))
	for _, lost := range []float64{0, 1} {
		var errors, stated, plain, sigmas float64
		for range runs {
			g := tied(random, 0.05, lost, length)
			d, ok := g.deformed([]float64{length, length, length, length})
			require.True(t, ok)
			require.Equal(t, 6*6-18, d.dof)
			before, _ := g.covarianceOf(2, geom.Vec{X: 1000, Y: 1000})
			g.solution.covariance = d.covariance
			after, _ := g.covarianceOf(2, geom.Vec{X: 1000, Y: 1000})
			for i := range 3 {
				plain += before[i][i]
				stated += after[i][i]
			}
			e := g.poses[2].Apply(geom.Vec{X: 1000, Y: 1000}).Sub(geom.Vec{X: 1000, Y: 1000})
			errors += e.Norm2()
			sigmas += d.sigma * d.sigma / runs
		}
		if lost == 0 {
			require.InDelta(t, 1, math.Sqrt(errors/plain), 0.1)
			require.InDelta(t, 0.9, math.Sqrt(errors/stated), 0.2, "chance may show some where there is none")
			require.Less(t, math.Sqrt(sigmas), 0.05)
			continue
		}
		require.Greater(t, math.Sqrt(errors/plain), 8.0, "what it would be without")
		require.InDelta(t, 1, math.Sqrt(errors/stated), 0.2)
		require.InDelta(t, lost, math.Sqrt(sigmas), 0.1)
	}
	// Without a round nothing tells.
	g := newGraph(2)
	for i := range 3 {
		p := geom.Vec{X: float64(100 * i), Y: float64(50 * i * i)}
		g.sights = append(g.sights, sight{node: 0, point: i, at: p, sigma: 0.1}, sight{node: 1, point: i, at: p, sigma: 0.1})
		g.points = append(g.points, p)
	}
	g.frame()
	g.solve()
	_, ok := g.deformed([]float64{1000, 1000})
	require.False(t, ok)
}
