package pieces

import (
	"math"

	"shutline/deviation/length"
	"shutline/mesh/geom"
)

// Markers tie two pieces to a tenth of a millimetre where they overlap, and a piece that has lost its shape on the way from one overlap to
// the next is off by more than that all the same. What markers of one overlap differ by does not show it, since they are off alike; the
// rounds do. So the ties of each pair of pieces err by their noise and by what the pieces' shapes are off there, one draw for each pair,
// whose size follows from how badly the rounds close (a variance between groups by its moments: DerSimonian & Laird 1986; Paule &
// Mandel 1982).

// bentLever of a piece's length: what lies at the ends of a rod bent to a circle by an angle t over its length L is t L/12 off its best
// straight line and turned by t/2, so that a millimetre goes with a turn at a sixth of the length.
const bentLever = 1.0 / 6

// pairTie is what ties two pieces, all in the joined frame, as a twist about the graph's centre with turns at its lever.
type pairTie struct {
	a, b        int
	information mat6
	pull        vec6 // information times how far a lies from where b has it
	at          geom.Vec
	places      float64
}

// deformation is what the pieces' shapes add.
type deformation struct {
	sigma      float64     // mm, by which the pieces are off between overlaps; 0: none shows
	within     float64     // variance of unit weight of what markers of a pair differ by, at least 1
	dof        int         // of the rounds
	covariance [][]float64 // of all twists
}

// pairTies gathers the ties by pairs of nodes, in order of first appearance, and what the markers of a pair differ by: chi-square and
// degrees of freedom.
func (g *graph) pairTies() (ties []*pairTie, chi2 float64, dof int) {
	index := map[[2]int]*pairTie{}
	of := func(a, b int) *pairTie {
		t := index[[2]int{a, b}]
		if t == nil {
			t = &pairTie{a: a, b: b}
			index[[2]int{a, b}] = t
			ties = append(ties, t)
		}
		return t
	}
	first := make([]int, len(g.points)) // sight of each point
	for i := range first {
		first[i] = -1
	}
	for k, z := range g.sights {
		if first[z.point] < 0 {
			first[z.point] = k
			continue
		}
		y := g.sights[first[z.point]]
		if z.node < y.node {
			y, z = z, y
		}
		t := of(y.node, z.node)
		p, q := g.poses[y.node].Apply(y.at), g.poses[z.node].Apply(z.at)
		w := 1 / (float64(y.sigma*y.sigma) + float64(z.sigma*z.sigma))
		off := p.Sub(q)
		for axis := range 3 {
			j := row(p, axes[axis], g.centre)
			for i := 3; i < 6; i++ {
				j[i] /= g.lever
			}
			e := off.At(axis)
			t.information.AddOuter(w, &j, &j)
			for i := range 6 {
				t.pull[i] += float64(float64(w*e) * j[i])
			}
		}
		chi2 += float64(w * off.Norm2())
		dof += 3
		t.at, t.places = t.at.Add(p), t.places+1
	}
	for _, t := range ties { // of the markers alone, as yet
		q, rank := t.chi2()
		chi2 -= q
		dof -= rank
	}
	for k := range g.links {
		l := &g.links[k]
		t := of(min(l.a, l.b), max(l.a, l.b))
		sign := 1.0
		if t.a != l.a {
			sign = -1
		}
		e, at := g.error6(l)
		info, jac := g.inJoined(l), g.jacobian6(at)
		jt := jac.Transposed()
		ji := jt.Mul(&info)
		block, pull := ji.Mul(&jac), ji.Times(&e)
		t.information.Add(&block)
		for i := range 6 {
			t.pull[i] += float64(sign * pull[i])
		}
		t.at, t.places = t.at.Add(at), t.places+1
	}
	return ties, chi2, dof
}

// chi2 returns that of the pair's tie and how many directions it holds.
func (t *pairTie) chi2() (chi2 float64, rank int) {
	values, vectors := t.information.Eigen()
	for k := range vectors {
		if values[k] > 1/(looseSigma*looseSigma) {
			s := vectors[k].Dot(&t.pull)
			chi2 += float64(s*s) / values[k]
			rank++
		}
	}
	return chi2, rank
}

// deformed returns what the rounds show of the pieces' shapes; ok is false without markers or rounds to tell it. sizes are the nodes'
// lengths, mm.
func (g *graph) deformed(sizes []float64) (d deformation, ok bool) {
	if len(g.sights) == 0 {
		return d, false
	}
	s := g.solution
	n := len(s.covariance) - 3*len(g.points)
	ties, chi2, dof := g.pairTies()
	d.within = 1
	if dof > 0 {
		d.within = max(1, chi2/float64(dof))
	}
	between, trace := 0.0, 0.0
	// What a deformation of 1 mm of each pair adds to the normal equations' right side, as a covariance.
	add := make([][]float64, n)
	for i := range add {
		add[i] = make([]float64, n)
	}
	for _, t := range ties {
		q, rank := t.chi2()
		between += q
		d.dof += rank
		var unit mat6
		lever := float64(bentLever * min(sizes[t.a], sizes[t.b]))
		for i := range 6 {
			unit[i][i] = 1
			if i >= 3 {
				unit[i][i] = 1 / float64(lever*lever)
			}
		}
		to := shifted(t.at.Scale(1/t.places), g.centre)
		unit = unit.Carried(&to)
		unit = levered(&unit, g.lever)
		both := t.information.Mul(&unit)
		for i := range 6 {
			trace += both[i][i]
		}
		block := both.Mul(&t.information)
		ca, cb := s.column[t.a], s.column[t.b]
		if ca >= 0 {
			addBlock(add, ca, ca, &block, 1)
		}
		if cb >= 0 {
			addBlock(add, cb, cb, &block, 1)
		}
		if ca >= 0 && cb >= 0 {
			addBlock(add, ca, cb, &block, -1)
			addBlock(add, cb, ca, &block, -1)
		}
	}
	d.dof -= n - len(s.loose)
	if d.dof <= 0 {
		return d, false
	}
	spread := carriedBy(s.covariance, add)
	for i := range n {
		for k := range n {
			trace -= float64(s.covariance[i][k] * add[k][i])
		}
	}
	variance := 0.0
	if trace > 0 {
		variance = max(0, (between-float64(d.within*float64(d.dof)))/trace)
	}
	d.sigma = math.Sqrt(variance)
	// Few rounds tell a variance badly.
	k := length.Coverage(0.9545, d.dof) / 2
	variance *= float64(k * k)
	d.covariance = make([][]float64, len(s.covariance))
	for i := range d.covariance {
		d.covariance[i] = make([]float64, len(s.covariance))
		for k := range d.covariance[i] {
			d.covariance[i][k] = float64(d.within * s.covariance[i][k])
			if i < n && k < n {
				d.covariance[i][k] += float64(variance * spread[i][k])
			}
		}
	}
	return d, true
}

// carriedBy returns c m c over the rows of m, c symmetric.
func carriedBy(c, m [][]float64) [][]float64 {
	n := len(m)
	half, out := make([][]float64, n), make([][]float64, n)
	for i := range n {
		half[i], out[i] = make([]float64, n), make([]float64, n)
		for k := range n {
			for j := range n {
				half[i][k] += float64(c[i][j] * m[j][k])
			}
		}
	}
	for i := range n {
		for k := range n {
			for j := range n {
				out[i][k] += float64(half[i][j] * c[j][k])
			}
		}
	}
	return out
}
