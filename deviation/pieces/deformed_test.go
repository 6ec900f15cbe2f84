package pieces

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// walked is a panel that was scanned from its middle each way while the scanner lost its way: where its points truly lie, and how each
// place of it was shifted and turned.
type walked struct {
	from, along, across geom.Vec // corner, and the sides
	points              []geom.Vec
	motions             []geom.Rigid // of even steps along, scanned from true
}

const walkSteps = 40

// newWalked walks a panel with a shift and a turn, mm and mrad after a metre along each axis, that grow with the root of the way.
func newWalked(random *rand.Rand, from, along, across geom.Vec, shift, turn float64) *walked {
	w := &walked{from: from, along: along, across: across, motions: make([]geom.Rigid, walkSteps+1)}
	step := math.Sqrt(along.Norm() / walkSteps / 1000)
	w.motions[walkSteps/2] = geom.Identity()
	for _, way := range []int{1, -1} {
		for k := walkSteps/2 + way; k >= 0 && k <= walkSteps; k += way {
			var x vec6
			for i := range x {
				x[i] = shift * step * random.NormFloat64()
				if i >= 3 {
					x[i] = turn / 1000 * step * random.NormFloat64()
				}
			}
			at := from.Add(along.Scale((float64(k) - float64(way)/2) / walkSteps)).Add(across.Scale(0.5))
			little := moved(geom.Identity(), &x, at)
			w.motions[k] = w.motions[k-way].After(little)
		}
	}
	for i := range 41 {
		for j := range 11 {
			w.points = append(w.points, w.at(float64(i)/40, float64(j)/10))
		}
	}
	return w
}

func (w *walked) at(along, across float64) geom.Vec {
	return w.from.Add(w.along.Scale(along)).Add(w.across.Scale(across))
}

// scanned returns where a point was scanned.
func (w *walked) scanned(p geom.Vec) geom.Vec {
	s := min(max(p.Sub(w.from).Dot(w.along)/w.along.Norm2(), 0), 1) * walkSteps
	k := min(int(s), walkSteps-1)
	return w.motions[k].Apply(p).Lerp(w.motions[k+1].Apply(p), s-float64(k))
}

// bestPlace returns the motion that lays a scanned panel on the true one with the least sum of squares, by Gauss-Newton.
func (w *walked) bestPlace() geom.Rigid {
	g := geom.Identity()
	for range 6 {
		n, b := newMatrix(6, 6), make([]float64, 6)
		for _, p := range w.points {
			q := g.Apply(w.scanned(p))
			e := q.Sub(p)
			for axis := range 3 {
				j := row(q, axes[axis], w.from)
				for i := range 6 {
					b[i] -= j[i] * e.At(axis)
					for k := range 6 {
						n[i][k] += j[i] * j[k]
					}
				}
			}
		}
		inverse, _ := inverseOf(n)
		x := vec6(times(inverse, b))
		g = moved(g, &x, w.from)
	}
	return g
}

// Four panels round a box and one on top, each scanned by itself and tied by markers where they meet. The rounds tell by how much the
// panels have lost their shape, and the stated covariance is that of the places' errors against the truth: each panel's place is where it
// lies best as a whole. Told by the markers' own disagreement it would be far less.
func TestTheRoundsTellOfLostShape(t *testing.T) {
	const runs, reading = 25, 0.05
	random := rand.New(rand.NewPCG(3, 4))
	for _, drift := range []struct{ shift, turn float64 }{{0, 0}, {1, 0.2}, {0.3, 1}} {
		var squares, plain, count, truly, told float64
		inside := 0
		for range runs {
			corners := []geom.Vec{{}, {X: 2000}, {X: 2000, Y: 2000}, {Y: 2000}}
			var panels []*walked
			for k, c := range corners {
				panels = append(panels, newWalked(random, c, corners[(k+1)%4].Sub(c), geom.Vec{Z: 700}, drift.shift, drift.turn))
			}
			panels = append(panels, newWalked(random, geom.Vec{Z: 700}, geom.Vec{X: 2000}, geom.Vec{Y: 2000}, drift.shift, drift.turn))
			g := newGraph(5)
			mark := func(a, b int, p geom.Vec) {
				read := func(p geom.Vec) geom.Vec {
					return p.Add(geom.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()}.Scale(reading))
				}
				g.sights = append(g.sights, sight{node: a, point: len(g.points), at: read(panels[a].scanned(p)), sigma: reading},
					sight{node: b, point: len(g.points), at: read(panels[b].scanned(p)), sigma: reading})
				g.points = append(g.points, p)
			}
			var points [][]geom.Vec
			for k := range panels {
				var scanned []geom.Vec
				for _, p := range panels[k].points {
					scanned = append(scanned, panels[k].scanned(p))
				}
				points = append(points, scanned)
				if k == 4 {
					break
				}
				for i := range 3 {
					mark(k, (k+1)%4, corners[(k+1)%4].Add(geom.Vec{X: 30 * float64(i%2), Z: 300 * float64(i)}))
					mark(k, 4, panels[k].at((float64(i)+0.5)/3, 1))
				}
			}
			g.frame()
			g.solve()
			at := geom.Vec{X: 1000, Y: 2000, Z: 350} // the middle of the panel across from the one that stays
			before, _ := g.covarianceOf(2, at)
			d, ok := g.deformed(points, make([]bool, 5))
			require.True(t, ok)
			c, free := g.covarianceOf(2, at)
			require.Equal(t, [6]bool{}, free)
			stays, other := panels[0].bestPlace(), panels[2].bestPlace()
			relative := stays.After(g.poses[2]).After(other.Inverse()) // of where the other lies best, beside where the one that stays does
			e := relative.Apply(at).Sub(at)
			for i := range 3 {
				squares += e.At(i) * e.At(i) / c[i][i]
				plain += e.At(i) * e.At(i) / before[i][i]
				count++
			}
			if e.Norm() <= reachOf(&c) {
				inside++
			}
			told += d.sigma * d.sigma / runs
			// What the first two panels differ by where they meet, each laid where it lies best.
			for k := range 4 {
				p := corners[(k+1)%4].Add(geom.Vec{Z: 350})
				off := panels[k].bestPlace().Apply(panels[k].scanned(p)).Sub(panels[(k+1)%4].bestPlace().Apply(panels[(k+1)%4].scanned(p)))
				truly += off.Norm2() / 6 / (4 * runs)
			}
		}
		t.Logf("drift %v: squares %.2f, by the markers alone %.1f, inside %d of %d, deformed %.3f, truly %.3f", drift, squares/count, plain/count, inside, runs, math.Sqrt(told), math.Sqrt(truly))
		require.GreaterOrEqual(t, inside, runs*9/10)
		if drift.shift == 0 {
			require.InDelta(t, 1, math.Sqrt(plain/count), 0.15)
			require.InDelta(t, 0.9, math.Sqrt(squares/count), 0.2, "chance may show some where there is none")
			require.Less(t, math.Sqrt(told), 0.05)
			continue
		}
		require.Greater(t, plain/count, 20.0)
		require.InDelta(t, 0.9, math.Sqrt(squares/count), 0.2)
		require.InDelta(t, 1, math.Sqrt(told/truly), 0.25)
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
	_, ok := g.deformed([][]geom.Vec{nil, nil}, []bool{false, false})
	require.False(t, ok)
}
