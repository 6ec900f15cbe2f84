package seamfind

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	thin      = 2.0  // mm, cells in which sights are taken together
	around    = 10.0 // mm, within which the run of a line is looked for
	leastNear = 5    // sights there; a line has ten
	// A line's sights lie within 1 mm beside it; bits at holes and debris are as wide as long.
	mostWide = 0.35 // width over length, as standard deviations
	leastRun = 3.0  // mm, standard deviation along the line; 5.8 in the middle of one
)

// spot is a place of a gap with the line's direction there.
type spot struct {
	sight
	along  geom.Vec // unit, either way
	weight float64  // sights that it stands for
	good   bool     // lies on something like a line
	taken  int      // number of the chain it belongs to, 0: none
}

// cell is a place of the grid of cloud.
type cell [3]int32

func cellOf(p geom.Vec, size float64) cell {
	return cell{int32(math.Floor(p.X / size)), int32(math.Floor(p.Y / size)), int32(math.Floor(p.Z / size))}
}

func compareCells(a, b cell) int {
	for k := range 3 {
		if a[k] != b[k] {
			return int(a[k]) - int(b[k])
		}
	}
	return 0
}

// cloud is all spots, found by where they lie.
type cloud struct {
	spots []spot
	cells map[cell][]int32 // of size around; only looked up, never walked
}

// gather takes the sights of all pictures together.
func gather(sights []sight) *cloud {
	keys := make([]cell, len(sights))
	order := make([]int, len(sights))
	for i := range sights {
		keys[i], order[i] = cellOf(sights[i].at, thin), i
	}
	slices.SortStableFunc(order, func(a, b int) int { return compareCells(keys[a], keys[b]) })
	c := &cloud{cells: map[cell][]int32{}}
	for i := 0; i < len(order); {
		j := i
		var s spot
		for ; j < len(order) && keys[order[j]] == keys[order[i]]; j++ {
			q := &sights[order[j]]
			s.at = s.at.Add(q.at)
			s.out = s.out.Add(q.out)
			sign := 1.0
			if s.across.Dot(q.across) < 0 {
				sign = -1
			}
			s.across = s.across.AddScaled(sign, q.across)
			s.width += q.width
		}
		n := float64(j - i)
		s.at, s.out, s.across, s.width, s.weight = s.at.Scale(1/n), s.out.Unit(), s.across.Unit(), s.width/n, n
		c.spots = append(c.spots, s)
		i = j
	}
	for i := range c.spots {
		k := cellOf(c.spots[i].at, around)
		c.cells[k] = append(c.cells[k], int32(i))
	}
	for i := range c.spots {
		c.direct(i)
	}
	return c
}

// near calls visit for every spot within r (at most around) of p.
func (c *cloud) near(p geom.Vec, r float64, visit func(i int)) {
	lo, hi := cellOf(p.Sub(geom.Vec{X: r, Y: r, Z: r}), around), cellOf(p.Add(geom.Vec{X: r, Y: r, Z: r}), around)
	for x := lo[0]; x <= hi[0]; x++ {
		for y := lo[1]; y <= hi[1]; y++ {
			for z := lo[2]; z <= hi[2]; z++ {
				for _, i := range c.cells[cell{x, y, z}] {
					if c.spots[i].at.Dist(p) <= r {
						visit(int(i))
					}
				}
			}
		}
	}
}

// direct finds the direction of the line through a spot and whether it is one.
func (c *cloud) direct(i int) {
	s := &c.spots[i]
	n := 0
	var mean geom.Vec
	c.near(s.at, around, func(k int) {
		if c.spots[k].out.Dot(s.out) > 0.5 {
			n++
			mean = mean.Add(c.spots[k].at)
		}
	})
	if n < leastNear {
		return
	}
	mean = mean.Scale(1 / float64(n))
	var m geom.Mat3
	c.near(s.at, around, func(k int) {
		if c.spots[k].out.Dot(s.out) <= 0.5 {
			return
		}
		d := c.spots[k].at.Sub(mean)
		for a := range 3 {
			for b := range 3 {
				m[a][b] += float64(d.At(a) * d.At(b))
			}
		}
	})
	// The largest axis, by squaring the matrix; the rest is what it leaves of the trace.
	along := principal(m)
	long := m.MulVec(along).Dot(along)
	rest := max(0, m[0][0]+m[1][1]+m[2][2]-long)
	s.along = along
	sd := math.Sqrt(long / float64(n))
	s.good = sd >= leastRun && math.Sqrt(rest/max(long, 1e-9)) < mostWide
}

// principal returns the unit vector of the largest eigenvalue of a symmetric matrix
// without negative ones, to far better than is needed here.
func principal(m geom.Mat3) geom.Vec {
	for range 12 { // the ratio of eigenvalues to the power of 2^12
		t := m[0][0] + m[1][1] + m[2][2]
		if t <= 0 {
			return geom.Vec{X: 1}
		}
		for a := range 3 {
			for b := range 3 {
				m[a][b] /= t
			}
		}
		m = m.Mul(m)
	}
	best, at := -1.0, geom.Vec{X: 1}
	for a := range 3 {
		row := geom.Vec{X: m[a][0], Y: m[a][1], Z: m[a][2]}
		if l := row.Norm2(); l > best {
			best, at = l, row
		}
	}
	return at.Unit()
}
