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
	misfit float64 // mm, the radius found where it cannot be the edge's, else 0
	u      float64 // mm, standard uncertainty of s where no edge was found
	n      int
	middle float64       // mm along the seam, the mean of the points on the roll
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

// rollPoint is a point beside a roll, the course of the face taken out.
type rollPoint struct {
	x, y, h, ny, nh float64
	off             bool // beyond where a web leaves the roll
}

// rollFit is a roll being fitted.
type rollFit struct {
	pts   []rollPoint
	f     *face
	r0    float64 // mm, the radius assumed
	ur    float64 // mm, its standard uncertainty
	band  float64 // mm
	turn  float64 // radians, standard uncertainty of the traced edge's direction
	noise float64
	sigma float64
	abs   []float64
}

const (
	tracedTurn = 0.01 // radians, to which the trace knows an edge's direction
	webbedTurn = 0.1  // where a web hides a part of the edge from it
)

// fitRound fits the roll geometrically: the sum of squared distances from it,
// with the prior on its radius, by Gauss and Newton with redescending weights.
// A web that leaves the roll toward the gap is no part of it: first the radius is
// held to find where points leave, then they are fitted without what lies beyond.
func fitRound(pts []zonePoint, f *face, s, r0, ur, noise, pitch, band float64) edge {
	g := rollFit{f: f, r0: r0, ur: ur, turn: tracedTurn, band: band, noise: noise, pts: make([]rollPoint, 0, 128)}
	for _, p := range pts {
		if p.y > s-3*r0-1 && p.y < s+3*r0+2 {
			g.pts = append(g.pts, rollPoint{x: p.x, y: p.y, h: f.at0(p.y) + (p.h - f.at(p.x, p.y)), ny: p.ny, nh: p.nh})
		}
	}
	e := edge{kind: Round, s: g.start(s), r: r0}
	if ur <= wellKnown {
		g.ur = ur / 4
		if g.fit(&e); e.n >= minOnArc {
			g.leaves(&e)
		}
		g.ur = ur
	}
	for stage := range 4 {
		g.fit(&e)
		if e.n < minOnArc {
			return e
		}
		left := g.leaves(&e)
		if stage == 3 || !g.lopsided(&e) && !left {
			break
		}
	}
	g.pattern(&e)
	e.judge(noise, pitch)
	if math.Abs(e.r-r0) > 3*ur {
		// A web bends the edge, or the radius given is not this edge's.
		e.misfit, e.found = e.r, false
	}
	return e
}

// start returns where to begin: at s, where the trace found the edge in the middle
// of the band, unless clearly more of the whole band's points lie on the face and
// the roll for a shoulder farther back, as when a web covers the middle.
func (g *rollFit) start(s float64) float64 {
	const (
		reach = 0.25 // mm off the outline
		step  = 0.4  // mm
		steps = 6
	)
	score := func(s float64) (sum float64) {
		c, n := centre(g.f, s, g.r0)
		t := Point2{n.H, -n.S}
		for i := range g.pts {
			p := &g.pts[i]
			px, py := p.y-c.S, p.h-c.H
			e := float64(px*n.S) + float64(py*n.H)
			if float64(px*t.S)+float64(py*t.H) > 0 {
				e = math.Sqrt(float64(px*px) + float64(py*py))
			}
			if e = (e - g.r0) / reach; e > -1 && e < 1 {
				sum += 1 - float64(e*e)
			}
		}
		return sum
	}
	first := score(s)
	best, at := first*1.05+2, s
	for i := 1; i <= steps; i++ {
		if v := score(s - step*float64(i)); v > best {
			best, at = v, s-step*float64(i)
		}
	}
	return at
}

// fit improves s and r.
func (g *rollFit) fit(e *edge) {
	f := g.f
	g.sigma = 0.15
	for round := range 14 {
		c, n := centre(f, e.s, e.r)
		t := Point2{n.H, -n.S}
		q := normalEq{n: 3}
		var toFace [2][3]float64
		g.abs = g.abs[:0]
		e.phis = e.phis[:0]
		middle := 0.0
		for i := range g.pts {
			p := &g.pts[i]
			px, py := p.y-c.S, p.h-c.H
			d := math.Sqrt(float64(px*px) + float64(py*py))
			v, w := float64(px*t.S)+float64(py*t.H), float64(px*n.S)+float64(py*n.H)
			if p.off || d == 0 || math.Abs(d-e.r) > 0.6 {
				continue
			}
			phi := math.Atan2(v, w)
			if phi < firstArc || phi > lastArc || p.ny*px+p.nh*py < 0.5*d {
				continue
			}
			res := d - e.r
			weight := tukey(res, g.sigma)
			g.abs = append(g.abs, math.Abs(res))
			if weight == 0 {
				continue
			}
			e.phis = append(e.phis, phi)
			middle += p.x
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
		e.n = len(e.phis)
		e.middle = middle / float64(max(e.n, 1))
		if e.n < minOnArc {
			return
		}
		scatter := robustSigma(g.abs, 2)
		if round > 2 {
			g.sigma = max(min(scatter, 0.15), g.noise, 0.002)
		}
		e.sigma = max(scatter, g.noise, 0.001)
		v := e.sigma * e.sigma
		q.a[1][1] += v / (g.ur * g.ur)
		q.b[1] += v / (g.ur * g.ur) * (g.r0 - e.r)
		q.a[2][2] += v / (g.turn * g.turn)
		inv, ok := q.inverse()
		if !ok {
			e.n = 0
			return
		}
		step := q.apply(&inv)
		e.s += min(max(step[0], -0.5), 0.5)
		e.r = max(e.r+min(max(step[1], -0.2), 0.2), 0.05)
		for i := range 2 {
			e.prior[i] = float64(inv[i][1] * v / g.ur)
			for k := range 3 {
				e.toFace[i][k] = -float64(inv[i][0]*toFace[0][k]) - float64(inv[i][1]*toFace[1][k])
			}
			for j := range 2 {
				e.data[i][j] = float64(v*inv[i][j]) - float64(inv[i][1]*inv[j][1]*v*v/(g.ur*g.ur))
			}
		}
		if round > 5 && math.Abs(step[0])+math.Abs(step[1]) < 1e-9 {
			break
		}
	}
}

// wellKnown is the standard uncertainty, mm, up to which a radius may be held to
// find a web: one that is 0.2 mm off leaves a roll by less than 0.1 mm within 90°.
const wellKnown = 0.25

const (
	slabs      = 4                  // across the band, for what holds a part of it only
	leavesBy   = 0.1                // mm, a point off the roll by more than hems that are not quite round are
	leavesArc  = 21 * math.Pi / 180 // a tangent is 0.1 mm off a roll of 1.5 mm that much farther on
	webReach   = 3.0                // mm off the roll
	webFromArc = 2 * math.Pi / 180
)

// lopsided reports whether the points on the roll lie so much to one end of the
// band that its direction must come from them; it then lets it.
func (g *rollFit) lopsided(e *edge) bool {
	if g.turn == webbedTurn || math.Abs(e.middle) < g.band/4 {
		return false
	}
	g.turn = webbedTurn
	return true
}

// leaves marks the points beyond the place where a slab's points leave the roll
// outward, and reports whether there are any that counted so far.
func (g *rollFit) leaves(e *edge) bool {
	c, n := centre(g.f, e.s, e.r)
	t := Point2{n.H, -n.S}
	type place struct{ phi, res float64 }
	var slab [slabs][]place
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range g.pts {
		lo, hi = min(lo, g.pts[i].x), max(hi, g.pts[i].x)
	}
	in := func(x float64) int { return min(int((x-lo)/(hi-lo+1e-9)*slabs), slabs-1) }
	at := func(p *rollPoint) (phi, res float64, ok bool) {
		px, py := p.y-c.S, p.h-c.H
		d := math.Sqrt(float64(px*px) + float64(py*py))
		phi = math.Atan2(float64(px*t.S)+float64(py*t.H), float64(px*n.S)+float64(py*n.H))
		ok = phi > webFromArc && phi < lastArc+leavesArc && d-e.r > -0.6 && d-e.r < webReach && p.ny*px+p.nh*py > 0
		return phi, d - e.r, ok
	}
	for i := range g.pts {
		if phi, res, ok := at(&g.pts[i]); ok {
			k := in(g.pts[i].x)
			slab[k] = append(slab[k], place{phi, res})
		}
	}
	cut := max(leavesBy, 3.5*g.noise)
	var from [slabs]float64
	for k := range slab {
		from[k] = math.Inf(1)
		slices.SortFunc(slab[k], func(a, b place) int {
			if a.phi < b.phi {
				return -1
			}
			if a.phi > b.phi {
				return 1
			}
			return 0
		})
		for i, p := range slab[k] {
			if p.res > cut && (i+1 == len(slab[k]) || slab[k][i+1].res > cut/2) {
				from[k] = p.phi - leavesArc
				break
			}
		}
	}
	found := false
	for i := range g.pts {
		p := &g.pts[i]
		if phi, _, ok := at(p); ok && !p.off && phi >= from[in(p.x)] {
			p.off, found = true, true
			g.turn = webbedTurn
		}
	}
	return found
}

// pattern enlarges the scatter of s and r where the points' distances from the
// roll follow a pattern: the means of patches of it (a quarter of the band by a
// third of the arc) should scatter as the noise over the root of their points
// does. The factor is Birge's ratio (1932).
func (g *rollFit) pattern(e *edge) {
	const (
		thirds = 3
		chance = 2.0 // with nine degrees of freedom chance alone exceeds it once in thirty
	)
	var sum, n [slabs][thirds]float64
	c, nn := centre(g.f, e.s, e.r)
	t := Point2{nn.H, -nn.S}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range g.pts {
		lo, hi = min(lo, g.pts[i].x), max(hi, g.pts[i].x)
	}
	end := slices.Max(e.phis) + 1e-9
	for i := range g.pts {
		p := &g.pts[i]
		px, py := p.y-c.S, p.h-c.H
		d := math.Sqrt(float64(px*px) + float64(py*py))
		phi := math.Atan2(float64(px*t.S)+float64(py*t.H), float64(px*nn.S)+float64(py*nn.H))
		if p.off || phi < firstArc || phi > end || math.Abs(d-e.r) > 0.6 || p.ny*px+p.nh*py < 0.5*d {
			continue
		}
		k := min(int((p.x-lo)/(hi-lo+1e-9)*slabs), slabs-1)
		l := min(int((phi-firstArc)/(end-firstArc)*thirds), thirds-1)
		sum[k][l] += d - e.r
		n[k][l]++
	}
	chi2, cells := 0.0, 0
	for k := range sum {
		for l := range sum[k] {
			if n[k][l] > 0 {
				chi2 += float64(sum[k][l] * sum[k][l] / n[k][l])
				cells++
			}
		}
	}
	if cells <= 3 {
		return
	}
	ratio2 := chi2 / float64(cells-3) / (e.sigma * e.sigma)
	if ratio2 < chance {
		return
	}
	for i := range e.data {
		for k := range e.data[i] {
			e.data[i][k] *= ratio2
		}
	}
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
