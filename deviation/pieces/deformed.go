package pieces

import (
	"math"
	"slices"

	"shutline/deviation/length"
	"shutline/mesh/geom"
)

// Markers tie two pieces to a tenth of a millimetre where they overlap, and a piece that has lost its shape on the way from one overlap to
// the next is off by more than that all the same. What markers of one overlap differ by does not show it, since they are off alike; the
// rounds do. So the ties of each pair of pieces err by their noise and by what the two pieces' shapes are off there, which hangs together
// with what each is off at its other overlaps; how much of it there is follows from how badly the rounds close, and the ties are
// weighed anew by it.

// pairTie is what ties two pieces, all in the joined frame, as a twist about the graph's centre with turns at its lever.
type pairTie struct {
	a, b        int
	information mat6
	pull        vec6       // information times how far a lies from where b has it
	places      []geom.Vec // where it ties them
}

// deformation is what the pieces' shapes add.
type deformation struct {
	sigma  float64 // mm, by which the pieces are off at their overlaps, root mean square along an axis; 0: none shows
	within float64 // variance of unit weight of what markers of a pair differ by, at least 1
	dof    int     // of the rounds
	drift  [drifts]float64
}

// pairTies gathers the ties by pairs of nodes, in order of first appearance, and the variance of unit weight, at least 1, of what the
// markers of a pair differ by, which their ties are weighed by.
func (g *graph) pairTies() (ties []*pairTie, within float64) {
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
	chi2, dof := 0.0, 0
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
		t.places = append(t.places, p)
	}
	for _, t := range ties { // of the markers alone, as yet
		q, rank := t.chi2()
		chi2 -= q
		dof -= rank
	}
	within = 1
	if dof > 0 {
		within = max(1, chi2/float64(dof))
	}
	for _, t := range ties {
		t.information = t.information.Scaled(1 / within)
		for i := range 6 {
			t.pull[i] /= within
		}
	}
	for k := range g.links {
		l := &g.links[k]
		t := &pairTie{a: l.a, b: l.b}
		ties = append(ties, t)
		e, at := g.error6(l)
		info, jac := g.inJoined(l), g.jacobian6(at)
		jt := jac.Transposed()
		ji := jt.Mul(&info)
		block, pull := ji.Mul(&jac), ji.Times(&e)
		t.information.Add(&block)
		for i := range 6 {
			t.pull[i] += pull[i]
		}
		t.places = append(t.places, at)
		for _, p := range l.places {
			t.places = append(t.places, g.poses[l.b].Apply(p))
		}
	}
	return ties, within
}

// chi2 returns that of the pair's tie and how many directions it holds.
func (t *pairTie) chi2() (chi2 float64, rank int) {
	_, e, rank := t.told()
	return e.Dot(&t.pull), rank
}

// notTold, mm², is the variance of a direction that a tie does not hold: far beyond looseSigma.
const notTold = 1e6

// told returns the tie's covariance, how far a lies from where b has it along what it holds, and how many directions those are.
func (t *pairTie) told() (covariance mat6, e vec6, rank int) {
	values, vectors := t.information.Eigen()
	for k := range vectors {
		variance := notTold
		if values[k] > 1/(looseSigma*looseSigma) {
			variance = 1 / values[k]
			rank++
			s := vectors[k].Dot(&t.pull) / values[k]
			for i := range 6 {
				e[i] += float64(s * vectors[k][i])
			}
		}
		covariance.AddOuter(variance, &vectors[k], &vectors[k])
	}
	return covariance, e, rank
}

// deformed finds what the rounds show of the pieces' shapes and lays the pieces where their ties, weighed by it, have them best; ok is
// false where there is no round to tell it. points are of the nodes' surfaces, each in its node's frame; rigid nodes, as the reference,
// keep their shape.
func (g *graph) deformed(points [][]geom.Vec, rigid []bool) (d deformation, ok bool) {
	s := g.solution
	n := len(s.covariance) - 3*len(g.points)
	if n == 0 {
		return d, false
	}
	ties, within := g.pairTies()
	d.within = within
	m := 6 * len(ties)
	a, y := newMatrix(m, n), make([]float64, m)
	kinds := make([][][]float64, drifts+1)
	for i := range kinds {
		kinds[i] = newMatrix(m, m)
	}
	for k, t := range ties {
		covariance, e, rank := t.told()
		d.dof += rank
		for i := range 6 {
			y[6*k+i] = -e[i]
			for j := range 6 {
				kinds[drifts][6*k+i][6*k+j] = covariance[i][j]
			}
			if c := s.column[t.a]; c >= 0 {
				a[6*k+i][c+i] = 1
			}
			if c := s.column[t.b]; c >= 0 {
				a[6*k+i][c+i] = -1
			}
		}
	}
	d.dof -= n - len(s.loose)
	if d.dof <= 0 {
		return d, false
	}
	for node := range g.poses {
		if !rigid[node] {
			g.addShape(kinds, ties, node, points[node])
		}
	}
	least := 1 / (looseSigma * looseSigma)
	if len(g.sights) > 0 {
		least = 1 / (markedLoose * markedLoose)
	}
	start, floor := []float64{firstComponent, firstComponent, 1}, []float64{0, 0, leastClaimed}
	found, ok := componentsOf(a, y, kinds, start, floor, least)
	if !ok {
		return d, false
	}
	theta := slices.Clone(found.theta)
	theta[drifts] = max(1, theta[drifts])
	c, ok := weighed(a, kinds, theta, least)
	if !ok {
		return d, false
	}
	c.information = found.information
	copy(d.drift[:], theta)
	x := times(c.gain, y)
	g.move(append(x, make([]float64, 3*len(g.points))...), s.column)
	g.meet()
	d.sigma = shapeAt(kinds, theta, g, ties)
	k := c.coverage(kinds)
	for i := range s.covariance {
		for j := range s.covariance {
			s.covariance[i][j] = 0
			if i < n && j < n {
				s.covariance[i][j] = float64(k*k) * c.covariance[i][j]
			}
		}
	}
	s.loose = c.loose
	return d, true
}

// addShape adds what a node of the points given, in its own frame, does to the covariances of the ties, of each kind of drift.
func (g *graph) addShape(kinds [][][]float64, ties []*pairTie, node int, points []geom.Vec) {
	var there []geom.Vec
	for _, p := range points {
		there = append(there, g.poses[node].Apply(p))
	}
	type end struct {
		tie  int
		sign float64
	}
	var ends []end
	for k, t := range ties {
		switch node {
		case t.a:
			ends = append(ends, end{k, 1})
		case t.b:
			ends = append(ends, end{k, -1})
		}
	}
	for _, f := range g.flexesOf(there) {
		carried := make([][slabs]mat6, len(ends))
		for i, e := range ends {
			carried[i] = g.carries(&f, ties[e.tie].places)
		}
		for i, p := range ends {
			for j, q := range ends {
				for kind := range drifts {
					c := f.together(&carried[i], &carried[j], kind)
					addBlock(kinds[kind], 6*p.tie, 6*q.tie, &c, float64(p.sign*q.sign))
				}
			}
		}
	}
}

// meet puts each point in the middle of its sightings, by their weights.
func (g *graph) meet() {
	sum, weight := make([]geom.Vec, len(g.points)), make([]float64, len(g.points))
	for _, z := range g.sights {
		w := 1 / float64(z.sigma*z.sigma)
		sum[z.point] = sum[z.point].AddScaled(w, g.poses[z.node].Apply(z.at))
		weight[z.point] += w
	}
	for k := range g.points {
		if weight[k] > 0 {
			g.points[k] = sum[k].Scale(1 / weight[k])
		}
	}
}

// shapeAt is what two pieces differ by at the middle of a tie since they lost their shape, mm, root mean square along an axis, for one of
// the two.
func shapeAt(kinds [][][]float64, theta []float64, g *graph, ties []*pairTie) float64 {
	sum := 0.0
	for k, t := range ties {
		var c mat6
		for i := range 6 {
			for j := range 6 {
				for d := range drifts {
					c[i][j] += float64(theta[d] * kinds[d][6*k+i][6*k+j])
				}
			}
		}
		var middle geom.Vec
		for _, p := range t.places {
			middle = middle.AddScaled(1/float64(len(t.places)), p)
		}
		to := g.jacobian6(middle)
		c = c.Carried(&to)
		for i := range 3 {
			sum += float64(c[i][i] / 2)
		}
	}
	return math.Sqrt(max(0, sum/float64(3*len(ties))))
}

// coverage is what uncertainties must be widened by since the components are known to few degrees of freedom: those of the greatest
// part of the covariance (Satterthwaite 1946).
func (c *components) coverage(kinds [][][]float64) float64 {
	all, part := 0.0, [drifts]float64{}
	for i := range c.covariance {
		all += c.covariance[i][i]
	}
	for d := range drifts {
		gk := product(c.gain, kinds[d])
		for i := range gk {
			for j, v := range gk[i] {
				part[d] += float64(v * c.gain[i][j])
			}
		}
	}
	f := c.information
	det := float64(f[0][0]*f[1][1]) - float64(f[0][1]*f[1][0])
	if !(det > 0) {
		return 1
	}
	scatter := (float64(part[0]*part[0]*f[1][1]) + float64(part[1]*part[1]*f[0][0]) - float64(2*float64(part[0]*part[1])*f[0][1])) / det
	free := mostFree
	if scatter > 0 {
		free = int(min(float64(mostFree), max(leastFree, float64(all*all)/scatter)))
	}
	return length.Coverage(within95, free) / 2
}

const (
	// within95 is the share of a normal variable within two standard deviations.
	within95 = 0.9545
	// leastFree and mostFree bound the degrees of freedom.
	leastFree, mostFree = 3, 200
	// firstComponent, mm² a metre, is where the search for what a scanner drifts begins.
	firstComponent = 0.1
	// markedLoose in mm is looseSigma where markers tie the pieces: they slide nowhere, and how far a piece that has lost its shape is off has
	// a number however large.
	markedLoose = 10 * looseSigma
	// leastClaimed of what ties claim to err by they do err by: a difference in shape counts there as well, and less of it than is claimed
	// may show.
	leastClaimed = 0.02
)
