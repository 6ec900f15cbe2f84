package pieces

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

// Cycle is a round of overlaps that leads back to where it began: composed, their motions must cancel.
type Cycle struct {
	Nodes    []int // pieces in order, the number of pieces for the reference; the last overlap leads back to the first
	Overlaps []int // by index
	// Gap is by how much the motions do not cancel, in the joined frame, along what all overlaps of the round
	// hold: mm at Centre, the middle of the overlap that closes the round; Turn in radians.
	Gap    float64
	Turn   float64
	Centre geom.Vec
	U      float64 // mm, expanded (k = 2), of the gap along its direction
	Chi2   float64
	DoF    int
	P      float64 // how often overlaps as good as these leave more
	Closes bool    // P is at least openChance
}

// openChance: a round that overlaps as good as stated would leave so seldom does not close.
const openChance = 0.01

// rounds finds the shortest round through every link that a spanning tree leaves over.
func (g *graph) rounds() []Cycle {
	n := len(g.poses)
	parent := make([]int, n)
	for k := range parent {
		parent[k] = k
	}
	root := func(k int) int {
		for parent[k] != k {
			k = parent[k]
		}
		return k
	}
	var out []Cycle
	for k := range g.links {
		a, b := root(g.links[k].a), root(g.links[k].b)
		if a != b {
			parent[max(a, b)] = min(a, b)
			continue
		}
		if c, ok := g.round1(k); ok {
			out = append(out, c)
		}
	}
	return out
}

// round1 closes the shortest way between a link's ends, among the links before it.
func (g *graph) round1(closing int) (Cycle, bool) {
	from, to := g.links[closing].b, g.links[closing].a
	came := make([]int, len(g.poses)) // link that led here
	for k := range came {
		came[k] = -1
	}
	queue := []int{from}
	for len(queue) > 0 && came[to] < 0 {
		at := queue[0]
		queue = queue[1:]
		for k := range closing {
			l := &g.links[k]
			next := -1
			switch at {
			case l.a:
				next = l.b
			case l.b:
				next = l.a
			}
			if next >= 0 && next != from && came[next] < 0 {
				came[next] = k
				queue = append(queue, next)
			}
		}
	}
	if came[to] < 0 {
		return Cycle{}, false
	}
	// Walk back from the closing link's a to its b; fromTo carries a's frame into the frame walked to.
	c := Cycle{Nodes: []int{to}, Overlaps: []int{}}
	motion := geom.Identity()
	var spread mat6
	last := &g.links[closing]
	c.Centre = g.poses[last.b].Apply(last.centre)
	rank := last.rank
	add := func(k int) {
		l := &g.links[k]
		cov := looseInverse(g.inJoined(l))
		s := shifted(g.poses[l.b].Apply(l.centre), c.Centre)
		cov = cov.Carried(&s)
		spread.Add(&cov)
		rank = min(rank, l.rank)
	}
	for at := to; at != from; {
		k := came[at]
		l := &g.links[k]
		add(k)
		c.Overlaps = append(c.Overlaps, k)
		if l.a == at {
			motion, at = l.bFromA.After(motion), l.b
		} else {
			motion, at = l.bFromA.Inverse().After(motion), l.a
		}
		c.Nodes = append(c.Nodes, at)
	}
	add(closing)
	c.Overlaps = append(c.Overlaps, closing)
	// motion and the closing link both carry a's frame into b's.
	inB := motion.After(last.bFromA.Inverse())
	inJoined := g.poses[last.b].After(inB).After(g.poses[last.b].Inverse())
	d := twistOf(inJoined, c.Centre)
	c.judge(&d, &spread)
	return c, true
}

// looseInverse inverts an information; what is not held gets a variance beyond looseSigma.
func looseInverse(info mat6) mat6 {
	const far = 1e4 // mm², and rad² at 1 mm: 100 mm and more
	values, vectors := info.Eigen()
	var out mat6
	for k, v := range vectors {
		variance := far
		if values[k] > 1/far {
			variance = 1 / values[k]
		}
		out.AddOuter(variance, &v, &v)
	}
	return out
}

// judge tests the gap against its covariance along the directions that are held.
func (c *Cycle) judge(d *vec6, spread *mat6) {
	const lever = 1000.0 // mm; only weighs turns beside shifts in what counts as held
	scaled := levered(spread, lever)
	x := *d
	for k := 3; k < 6; k++ {
		x[k] *= lever
	}
	values, vectors := scaled.Eigen()
	var held vec6
	var heldSpread mat6
	for k, v := range vectors {
		if values[k] > looseSigma*looseSigma || !(values[k] > 0) {
			continue
		}
		s := v.Dot(&x)
		c.Chi2 += float64(s*s) / values[k]
		c.DoF++
		for i := range 6 {
			held[i] += float64(s * v[i])
		}
		heldSpread.AddOuter(values[k], &v, &v)
	}
	c.P = ChiSquareTail(c.Chi2, c.DoF)
	c.Closes = c.P >= openChance
	c.Gap = norm3(held[0], held[1], held[2])
	c.Turn = norm3(held[3], held[4], held[5]) / lever
	if c.Gap > 0 {
		along := vec6{held[0] / c.Gap, held[1] / c.Gap, held[2] / c.Gap}
		s := heldSpread.Times(&along)
		c.U = 2 * math.Sqrt(max(0, along.Dot(&s)))
	}
	slices.Reverse(c.Nodes[1:])
	slices.Reverse(c.Overlaps)
}
