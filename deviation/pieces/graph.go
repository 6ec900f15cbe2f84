package pieces

import (
	"math"

	"shutline/mesh/geom"
)

// link is a measured motion between two nodes of the graph: bFromA, with its information about a centre in b's frame.
type link struct {
	a, b        int
	bFromA      geom.Rigid
	centre      geom.Vec
	information mat6
	rank        int
	places      []geom.Vec // where it was measured, in b's frame
}

// sight is a named point seen in a node's frame, mm.
type sight struct {
	node, point int
	at          geom.Vec
	sigma       float64 // mm, one standard deviation per axis
}

// graph is the pieces (nodes 0 to n−1; fixed ones do not move) with what ties them together.
//
// Based on: Lu & Milios (1997): all motions from one linear system, each tie weighted by its
// information; solved anew from where it led until nothing moves.
type graph struct {
	poses  []geom.Rigid // joined from piece
	fixed  []bool
	links  []link
	sights []sight
	points []geom.Vec // joined frame, one for each name
	centre geom.Vec
	lever  float64

	solution *solution
}

// solution is what a graph's least squares tell beside the poses.
type solution struct {
	covariance [][]float64 // of all twists about the graph's centre (turns at the lever) and points, not scaled by the variance of unit weight
	column     []int       // of each node's six motions, −1 for a fixed one
	loose      [][]float64 // unit vectors over the columns: what is not held
	chi2       float64
	dof        int
	steps      int
}

const (
	// looseSigma in mm: a motion less sure than this is not held. Pieces are not laid together by a
	// motion that is off by a whole gap.
	looseSigma = 10.0
	// graphRested in mm at the lever.
	graphRested = 1e-7
	graphSteps  = 30
)

// solve moves the poses to their least squares.
func (g *graph) solve() {
	for step := 1; ; step++ {
		x, s := g.round()
		size := 0.0
		for _, v := range x {
			size = max(size, math.Abs(v))
		}
		g.move(x, s.column)
		if size < graphRested || step == graphSteps {
			_, s = g.round()
			s.steps = step
			g.solution = s
			return
		}
	}
}

// move applies a step.
func (g *graph) move(x []float64, column []int) {
	for k := range g.poses {
		if column[k] < 0 {
			continue
		}
		var d vec6
		copy(d[:], x[column[k]:column[k]+6])
		for i := 3; i < 6; i++ {
			d[i] /= g.lever
		}
		g.poses[k] = moved(g.poses[k], &d, g.centre)
	}
	first := len(x) - 3*len(g.points)
	for k := range g.points {
		c := first + 3*k
		g.points[k] = g.points[k].Add(geom.Vec{X: x[c], Y: x[c+1], Z: x[c+2]})
	}
}

// error6 returns how far a link's two ends are apart, as a twist about its centre in the joined frame, which it returns too.
func (g *graph) error6(l *link) (e vec6, at geom.Vec) {
	at = g.poses[l.b].Apply(l.centre)
	return twistOf(g.poses[l.a].After(g.poses[l.b].After(l.bFromA).Inverse()), at), at
}

// jacobian6 returns the derivative of a link's error by a node's motion, turns at the lever.
func (g *graph) jacobian6(at geom.Vec) mat6 {
	s := shifted(g.centre, at)
	for r := range 6 {
		for c := 3; c < 6; c++ {
			s[r][c] /= g.lever
		}
	}
	return s
}

// inJoined returns a link's information in the joined frame.
func (g *graph) inJoined(l *link) mat6 {
	t := geom.Turned6(&g.poses[l.b].R)
	return l.information.Carried(&t)
}

// equations are the normal equations of the present poses: normal · x = right.
type equations struct {
	normal [][]float64
	right  []float64
	rows   int
}

// round sums and solves the normal equations at the present poses.
func (g *graph) round() ([]float64, *solution) {
	s := &solution{column: make([]int, len(g.poses))}
	n := 0
	for k := range g.poses {
		s.column[k] = -1
		if !g.fixed[k] {
			s.column[k] = n
			n += 6
		}
	}
	first := n
	n += 3 * len(g.points)
	q := equations{normal: zeros(n), right: make([]float64, n)}
	for k := range g.links {
		g.addLink(&q, s, &g.links[k])
	}
	for _, z := range g.sights {
		w := 1 / float64(z.sigma*z.sigma)
		p := g.poses[z.node].Apply(z.at)
		e := p.Sub(g.points[z.point])
		s.chi2 += float64(w * e.Norm2())
		q.rows += 3
		for axis := range 3 {
			column, value := g.sightRow(s.column[z.node], first+3*z.point, p, axis)
			for i, ci := range column {
				q.right[ci] -= float64(float64(w*value[i]) * e.At(axis))
				for j, cj := range column {
					q.normal[ci][cj] += float64(float64(w*value[i]) * value[j])
				}
			}
		}
	}
	if n == 0 {
		s.dof = q.rows
		return nil, s
	}
	return q.solve(s), s
}

func zeros(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// addLink adds what a link tells of the two poses that it joins.
func (g *graph) addLink(q *equations, s *solution, l *link) {
	e, at := g.error6(l)
	info, jac := g.inJoined(l), g.jacobian6(at)
	jt := jac.Transposed()
	ji := jt.Mul(&info)
	block, pull := ji.Mul(&jac), ji.Times(&e)
	ie := info.Times(&e)
	s.chi2 += e.Dot(&ie)
	q.rows += l.rank
	ca, cb := s.column[l.a], s.column[l.b]
	if ca >= 0 {
		addBlock(q.normal, ca, ca, &block, 1)
		addRight(q.right, ca, &pull, -1)
	}
	if cb >= 0 {
		addBlock(q.normal, cb, cb, &block, 1)
		addRight(q.right, cb, &pull, 1)
	}
	if ca >= 0 && cb >= 0 {
		addBlock(q.normal, ca, cb, &block, -1)
		addBlock(q.normal, cb, ca, &block, -1)
	}
}

// solve returns x along all directions that are held, and notes the covariance, the loose directions and the degrees of freedom.
func (q *equations) solve(s *solution) []float64 {
	n := len(q.right)
	x := make([]float64, n)
	values, vectors := geom.EigenSymmetric(q.normal)
	s.covariance = zeros(n)
	held := 0
	for k, v := range vectors {
		if !(values[k] > 1/(looseSigma*looseSigma)) {
			s.loose = append(s.loose, v)
			continue
		}
		held++
		b := 0.0
		for i := range v {
			b += float64(v[i] * q.right[i])
		}
		b /= values[k]
		for i := range v {
			x[i] += float64(b * v[i])
			vi := v[i] / values[k]
			for j := range v {
				s.covariance[i][j] += float64(vi * v[j])
			}
		}
	}
	s.dof = q.rows - held
	return x
}

// axes are the directions along which a sight is off, each by itself.
var axes = [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}

// sightRow returns the columns and derivatives of one axis of a sight's error.
func (g *graph) sightRow(node, point int, p geom.Vec, axis int) (column []int, value []float64) {
	column, value = append(column, point+axis), append(value, -1)
	if node < 0 {
		return column, value
	}
	j := row(p, axes[axis], g.centre)
	for k := range 6 {
		v := j[k]
		if k >= 3 {
			v /= g.lever
		}
		if v != 0 {
			column, value = append(column, node+k), append(value, v)
		}
	}
	return column, value
}

func addBlock(m [][]float64, r, c int, b *mat6, sign float64) {
	for i := range 6 {
		for j := range 6 {
			m[r+i][c+j] += float64(sign * b[i][j])
		}
	}
}

func addRight(v []float64, at int, b *vec6, sign float64) {
	for i := range 6 {
		v[at+i] += float64(sign * b[i])
	}
}

// covarianceOf returns the covariance of a node's motion as a twist about a place of the joined frame, mm and
// radians, and which of the six motions are not held. A fixed node's is zero.
func (g *graph) covarianceOf(node int, at geom.Vec) (c mat6, free [6]bool) {
	s := g.solution
	first := s.column[node]
	if first < 0 {
		return c, free
	}
	for i := range 6 {
		for j := range 6 {
			c[i][j] = s.covariance[first+i][first+j]
		}
	}
	a := g.jacobian6(at)
	c = c.Carried(&a)
	for _, v := range s.loose {
		var d vec6
		copy(d[:], v[first:first+6])
		moves := a.Times(&d)
		for i := range 6 {
			share := math.Abs(moves[i])
			if i >= 3 {
				share *= g.lever
			}
			if share > involved {
				free[i] = true
			}
		}
	}
	return c, free
}

// offAxes returns how far the axes of a node's turns that are not held lie from a place of the joined frame, mm along X, Y and Z, the farthest of them.
func (g *graph) offAxes(node int, at geom.Vec) (off [3]float64) {
	s := g.solution
	first := s.column[node]
	if first < 0 {
		return off
	}
	a := g.jacobian6(at)
	for _, v := range s.loose {
		var d vec6
		copy(d[:], v[first:first+6])
		moves := a.Times(&d)
		shift, turn := geom.Vec{X: moves[0], Y: moves[1], Z: moves[2]}, geom.Vec{X: moves[3], Y: moves[4], Z: moves[5]}
		if turn.Norm()*g.lever <= involved {
			continue
		}
		axis := turn.Cross(shift).Scale(1 / turn.Norm2())
		for i := range off {
			off[i] = max(off[i], math.Abs(axis.At(i)))
		}
	}
	return off
}

// variance of unit weight: what the ties disagree by beside what they claim; 1 where nothing is left over to tell.
func (s *solution) unitVariance() float64 {
	if s.dof <= 0 {
		return 1
	}
	return s.chi2 / float64(s.dof)
}
