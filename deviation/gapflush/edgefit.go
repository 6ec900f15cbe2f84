package gapflush

import (
	"math"
	"slices"
)

// edge is a fitted edge: a roll of radius r tangent to the face at s. A sharp
// corner is a roll of radius 0. A chamfer runs from its shoulder straight to its
// nose, r mm farther along the face and fall·r below it.
type edge struct {
	kind   EdgeKind
	s, r   float64
	fall   float64
	found  bool
	u      float64 // mm, standard uncertainty of s where no edge was found
	n      int
	seen   float64       // radians of arc seen from the shoulder on
	phis   []float64     // of the points on the roll
	data   [2][2]float64 // covariance of s, r from the points
	prior  [2]float64    // change of s, r with the radius assumed, times its uncertainty
	toFace [2][3]float64 // change of s, r with h0, m, c of the face
	sigma  float64
}

const (
	firstArc = 12 * math.Pi / 180  // a roll's first points do not tell it from the face
	lastArc  = 105 * math.Pi / 180 // beyond, a hem is no longer round
	minArc   = 25 * math.Pi / 180  // definitions: less is unseen
	minOnArc = 4
)

// centre returns the middle of the roll and the face's outward normal at its shoulder.
func centre(f *face, s, r float64) (c, n Point2) {
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	n = Point2{-m / q, 1 / q}
	return Point2{s + float64(-r*n.S), f.at0(s) - float64(r*n.H)}, n
}

// fitRound fits the roll geometrically: the sum of squared distances from it,
// with the prior on its radius, by Gauss and Newton with redescending weights.
func fitRound(pts []zonePoint, f *face, s, r0, ur, noise, pitch float64) edge {
	e := edge{kind: Round, s: s, r: r0}
	sigma := 0.15
	beside := make([]zonePoint, 0, 64)
	for _, p := range pts {
		if p.y > s-3*r0-1 && p.y < s+3*r0+2 {
			beside = append(beside, p)
		}
	}
	pts = beside
	for round := range 14 {
		c, n := centre(f, e.s, e.r)
		t := Point2{n.H, -n.S}
		q := normalEq{n: 3}
		var toFace [2][3]float64
		var abs, phis []float64
		for i := range pts {
			p := &pts[i]
			px, py := p.y-c.S, f.at0(p.y)+(p.h-f.at(p.x, p.y))-c.H
			d := math.Sqrt(float64(px*px) + float64(py*py))
			v, w := float64(px*t.S)+float64(py*t.H), float64(px*n.S)+float64(py*n.H)
			if d == 0 || math.Abs(d-e.r) > 0.6 {
				continue
			}
			phi := math.Atan2(v, w)
			if phi < firstArc || phi > lastArc || p.ny*px+p.nh*py < 0.5*d {
				continue
			}
			res := d - e.r
			weight := tukey(res, sigma)
			abs = append(abs, math.Abs(res))
			if weight == 0 {
				continue
			}
			phis = append(phis, phi)
			ux, uy := px/d, py/d
			dir := func(cx, cy float64) float64 { return -float64(ux*cx) - float64(uy*cy) }
			m := f.slope(e.s)
			bend := 1 - float64(f.c*e.r)
			r := row{dir(bend, m*bend), math.Cos(phi) - 1, float64(-ux * p.x)}
			q.add(&r, -res, weight)
			arm := e.s - f.y0
			df := [3]float64{dir(0, 1), dir(e.r, arm), dir(-e.r*arm, -arm*arm/2)}
			for k := range df {
				toFace[0][k] += float64(weight * r[0] * df[k])
				toFace[1][k] += float64(weight * r[1] * df[k])
			}
		}
		e.n, e.phis = len(phis), phis
		if e.n < minOnArc {
			return e
		}
		scatter := robustSigma(abs, 2)
		if round > 2 {
			sigma = max(min(scatter, 0.15), noise, 0.002)
		}
		e.sigma = max(scatter, noise, 0.001)
		v := e.sigma * e.sigma
		q.a[1][1] += v / (ur * ur)
		q.b[1] += v / (ur * ur) * (r0 - e.r)
		q.a[2][2] += v / (0.01 * 0.01) // the trace knows the edge's direction to about 10 mrad
		inv, ok := q.inverse()
		if !ok {
			e.n = 0
			return e
		}
		step := q.apply(&inv)
		e.s += min(max(step[0], -0.5), 0.5)
		e.r = max(e.r+min(max(step[1], -0.2), 0.2), 0.05)
		for i := range 2 {
			e.prior[i] = float64(inv[i][1] * v / ur)
			for k := range 3 {
				e.toFace[i][k] = -float64(inv[i][0]*toFace[0][k]) - float64(inv[i][1]*toFace[1][k])
			}
			for j := range 2 {
				e.data[i][j] = float64(v*inv[i][j]) - float64(inv[i][1]*inv[j][1]*v*v/(ur*ur))
			}
		}
		if round > 5 && math.Abs(step[0])+math.Abs(step[1]) < 1e-9 {
			break
		}
	}
	e.judge(noise, pitch)
	return e
}

// judge says how much of the roll was seen, walking from the shoulder while no
// stretch is without a point that is longer than 40° or, on a coarse scan whose
// rows lie in step, than the pitch of its points on the roll; and whether it is
// a roll at all.
func (e *edge) judge(noise, pitch float64) {
	void := max(40*math.Pi/180, 1.15*min(pitch/e.r, 1))
	slices.Sort(e.phis)
	last := 0.0
	for i, phi := range e.phis {
		if phi-last > void {
			break
		}
		last = phi
		// One point alone at the end is no support.
		if i > 0 {
			e.seen = e.phis[i-1]
		}
	}
	if last-e.seen < 15*math.Pi/180 {
		e.seen = last
	}
	e.found = e.n >= minOnArc && e.seen >= minArc && e.sigma <= max(4*noise, 0.12)
}

// spacing is the distance of points spread evenly at the density of those on the
// roll: the stretch of it that was seen, over the band. 0 where none was found.
func (e *edge) spacing(band float64) float64 {
	if e.kind != Round || !e.found {
		return 0
	}
	return math.Sqrt(2 * band * e.r * (min(e.seen, lastArc) - firstArc) / float64(e.n))
}

// fitStraight fits the wall below a corner and meets it with the face; a chamfer's
// facet first, then the wall below it. Normals tell facet from wall.
func fitStraight(pts []zonePoint, f *face, s, noise float64, kind EdgeKind) edge {
	e := edge{kind: kind, s: s}
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	type line struct{ a, b, cov00 float64 } // v = a + b w in the face's own axes
	fit := func(lo, hi float64) (l line, n int, ok bool) {
		cut := 0.6
		for round := range 5 {
			eq := normalEq{n: 2}
			var abs []float64
			n = 0
			for i := range pts {
				p := &pts[i]
				w := (p.h - f.at(p.x, p.y)) / q
				v := (p.y-s)*q + float64(m*w)
				tilt := math.Atan2(p.ny+float64(m*p.nh), p.nh-float64(m*p.ny))
				if tilt < lo || tilt > hi || w > -0.15 || w < -3 || math.Abs(v) > 4 {
					continue
				}
				weight := 1.0
				if round > 0 {
					r := v - l.a - float64(l.b*w)
					abs = append(abs, math.Abs(r))
					weight = tukey(r, cut)
				}
				if weight > 0 {
					eq.add(&row{1, w}, v, weight)
					n++
				}
			}
			eq.a[1][1] += 0.05 // holds the slope where all points are at one depth
			inv, good := eq.inverse()
			if !good || n < minOnArc {
				return l, n, false
			}
			b := eq.apply(&inv)
			cut = max(noise, robustSigma(abs, 2), 0.01)
			l = line{b[0], b[1], inv[0][0] * max(noise, cut) * max(noise, cut)}
			if round == 0 {
				cut = 0.3
			}
		}
		return l, n, true
	}
	deg := math.Pi / 180
	lo := 60 * deg
	if kind == Chamfer {
		lo = 72 * deg
	}
	wall, n, okWall := fit(lo, 115*deg)
	e.n = n
	if kind == Sharp {
		if okWall {
			e.s += wall.a / q
			e.found, e.seen = true, math.Pi/2
			e.data[0][0] = wall.cov00
			e.phis = []float64{math.Pi / 2, math.Pi / 2}
		}
		return e
	}
	facet, nf, okFacet := fit(18*deg, 70*deg)
	if !okFacet || !okWall || math.Abs(facet.b-wall.b) < 0.2 {
		return e
	}
	// facet and wall meet at depth w
	w := (wall.a - facet.a) / (facet.b - wall.b)
	e.s += facet.a / q
	e.r = facet.b * w
	e.fall = -w / e.r
	e.n = n + nf
	e.found = e.r > 0 && w < 0
	e.seen = math.Pi / 2
	e.phis = []float64{math.Pi / 2, math.Pi / 2}
	e.data[0][0] = facet.cov00
	e.data[1][1] = facet.cov00 + wall.cov00
	e.data[0][1], e.data[1][0] = -facet.cov00, -facet.cov00
	return e
}
