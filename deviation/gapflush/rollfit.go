package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// rollPoint is a point beside a roll, the course of the face along the seam taken out.
type rollPoint struct {
	x, y, h, ny, nh float64
	off             bool // beyond where a web leaves the roll
}

// rollFit is a roll being fitted.
type rollFit struct {
	pts   []rollPoint
	face  *face
	r0    float64 // mm, the radius assumed
	ur    float64 // mm, its standard uncertainty
	band  float64 // mm
	turn  float64 // radians, standard uncertainty of the traced edge's direction
	along course  // of the edge, besides what the trace says
	clear bool    // it is taken out of the points' distances
	noise float64 // mm
	sigma float64 // mm, the scale of residuals to begin with; 0: not known
	sunk  float64 // mm, by which the points lie under the roll they stand for
	// How the points scatter.
	uneven *uneven
	// The last round of a fit: the roll that points were weighed against, and the scale.
	last roll
	cut  float64

	// Those of pts that may count for a roll near the one they were picked for.
	close  []int32
	picked roll

	abs, other []float64
	beside     []besideRoll
	parts      []edgeStretch
	ledgeSum   []float64 // of a face's parts, and how many points each has
	ledgeN     []float64
}

// pickedRoom is how far, mm, a roll may move before the points that may count for it are picked anew.
const pickedRoom = 0.5

// pick returns the points that may count for a roll, in their order: near its circle and
// not behind its shoulder, either with as much room as the roll has moved since they were picked.
func (g *rollFit) pick(o *roll) []int32 {
	if g.picked.r > 0 {
		old := &g.picked
		moved := length(sub(o.c, old.c))
		turned := length(sub(o.t, old.t))
		if moved+math.Abs(o.r-old.r) < pickedRoom && moved+float64(turned*(old.r+onRoll+pickedRoom)) < pickedRoom {
			return g.close
		}
	}
	g.picked, g.close = *o, g.close[:0]
	far := o.r + onRoll + pickedRoom
	for i := range g.pts {
		px, py := g.pts[i].y-o.c.S, g.pts[i].h-o.c.H
		if float64(px*o.t.S)+float64(py*o.t.H) > -pickedRoom && float64(px*px)+float64(py*py) < far*far {
			g.close = append(g.close, int32(i))
		}
	}
	return g.close
}

// courseClear is how much of a roll's course, mm at alongScale, may be taken out of its points'
// distances before they are weighed: what a good trace leaves. More may be a web's doing, whose
// points are to stay far off.
const courseClear = 0.02

// clears reports whether the points of a roll that was fitted scatter half as much without
// its course, as those of a scan without noise do, and has fits take it out from then on.
func (g *rollFit) clears(e *edge) bool {
	if g.clear || math.Abs(g.along.turn) > courseClear || math.Abs(g.along.bend) > courseClear {
		return false
	}
	with, without := g.abs[:0], g.other[:0]
	o := rollAt(g.face, e.s, e.r)
	for _, i := range g.pick(&o) {
		p := &g.pts[i]
		if at, ok := g.counts(&o, p); ok {
			with = append(with, math.Abs(at.d-o.r))
			without = append(without, math.Abs(at.d-o.r-float64(at.ux*g.along.at(p.x))))
		}
	}
	g.abs, g.other = with, without
	g.clear = 2*robustSigma(without, rollUnknowns) < robustSigma(with, rollUnknowns)
	return g.clear
}

// rollUnknowns are s and r of a roll and its course along the seam, a turn and a bend.
const rollUnknowns = 4

const (
	tracedTurn = 0.01 // radians, to which the trace knows an edge's direction
	tracedBend = 0.01 // mm, at alongScale from the station, by how much it bends otherwise
	webbedTurn = 0.1  // where a web hides a part of the edge from it

	fitRounds   = 14
	heldRounds  = 7    // enough to see where points leave by a tenth of a millimetre
	onRoll      = 0.6  // mm off the roll
	settled     = 1e-5 // mm, a step that changes nothing any more
	heldSettled = 1e-3 // mm, one after which points still leave by a tenth of a millimetre where they did
	firstCut    = 0.15 // mm, the scale of residuals before they have told their own
)

// set makes g ready to fit; its memory is used again.
func (g *rollFit) set(pts []zonePoint, task *rollTask) {
	*g = rollFit{face: task.face, r0: task.r, ur: task.ur, band: task.band, turn: tracedTurn, noise: task.noise, sunk: task.sunk, uneven: task.uneven, pts: g.pts[:0], abs: g.abs[:0], other: g.other[:0], close: g.close[:0], beside: g.beside[:0], parts: g.parts[:0], ledgeSum: g.ledgeSum[:0], ledgeN: g.ledgeN[:0]}
	lo, hi := task.s-float64(3*task.r)-1, task.s+float64(3*task.r)+2
	for i := range pts {
		if p := &pts[i]; p.y > lo && p.y < hi && !task.beyond.holds(p) {
			g.pts = append(g.pts, rollPoint{x: p.x, y: p.y, h: g.face.at0(p.y) + (p.h - g.face.at(p.x, p.y)), ny: p.ny, nh: p.nh})
		}
	}
}

// roll is a circle tangent to a face at s.
type roll struct {
	s, r       float64
	c, t, n    Point2  // centre; the face's tangent toward the gap and its normal at s
	slope, arm float64 // of the face at s; mm from the middle of its zone
	bend       float64 // 1 - curvature of the face times r
}

func rollAt(f *face, s, r float64) roll {
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	n := Point2{-m / q, 1 / q}
	c := Point2{s + float64(-r*n.S), f.at0(s) - float64(r*n.H)}
	return roll{s, r, c, Point2{n.H, -n.S}, n, m, s - f.y0, 1 - float64(f.c*r)}
}

// rollPlace is where a point lies beside a roll.
type rollPlace struct {
	ux, uy float64 // unit, from the centre to the point
	d      float64 // mm from the centre
	v, w   float64 // mm from the centre along the face's tangent and normal
}

// place returns where y, h lies; not for the centre itself.
func (o *roll) place(y, h float64) rollPlace {
	px, py := y-o.c.S, h-o.c.H
	d := math.Sqrt(float64(px*px) + float64(py*py))
	return rollPlace{px / d, py / d, d, float64(px*o.t.S) + float64(py*o.t.H), float64(px*o.n.S) + float64(py*o.n.H)}
}

func (p *rollPlace) phi() float64 { return geom.Atan2(p.v, p.w) }

var (
	tanFirst    = geom.Tan(firstArc)
	tanSmoothed = geom.Tan(smoothedFrom)
	tanPast     = geom.Tan(lastArc - math.Pi/2)
)

// onArc reports whether a place lies between firstArc and lastArc.
func (p *rollPlace) onArc() bool {
	if p.w > 0 {
		return p.v >= p.w*tanFirst
	}
	return p.v > 0 && -p.w <= p.v*tanPast
}

// slopes returns the change of a point's distance from the circle with s and r,
// and with h0, m and c of the face.
func (o *roll) slopes(p *rollPlace) (ds, dr float64, df [3]float64) {
	dir := func(cx, cy float64) float64 { return -float64(p.ux*cx) - float64(p.uy*cy) }
	df = [3]float64{dir(0, 1), dir(o.r, o.arm), dir(-o.r*o.arm, -o.arm*o.arm/2)}
	return dir(o.bend, o.slope*o.bend), p.w/p.d - 1, df
}

// fit improves s and r geometrically: the sum of squared distances from the roll,
// with the prior on its radius, by Gauss and Newton with redescending weights.
func (g *rollFit) fit(e *edge, rounds int) {
	sigma, cold := g.sigma, 3
	if sigma == 0 {
		sigma = firstCut
	} else {
		cold = 0
	}
	var o roll
	for round := range rounds {
		o = rollAt(g.face, e.s, e.r)
		q := normalEq{n: rollUnknowns}
		var toFace [rollUnknowns][3]float64
		g.abs = g.abs[:0]
		n, middle := 0, 0.0
		for _, i := range g.pick(&o) {
			p := &g.pts[i]
			at, ok := g.counts(&o, p)
			if !ok {
				continue
			}
			x := p.x / alongScale
			r := row{2: -at.ux * x, 3: -at.ux * x * x}
			res := at.d - o.r
			if g.clear {
				res += float64(r[2]*g.along.turn) + float64(r[3]*g.along.bend)
			}
			more := g.uneven.of(&at)
			weight := tukey(res/more, sigma) / float64(more*more)
			g.abs = append(g.abs, math.Abs(res)/more)
			if weight == 0 {
				continue
			}
			n++
			middle += p.x
			var df [3]float64
			r[0], r[1], df = o.slopes(&at)
			q.add(&r, -res, weight)
			for i := range toFace {
				for k := range df {
					toFace[i][k] += float64(weight * r[i] * df[k])
				}
			}
		}
		if e.n = n; n < minOnArc {
			return
		}
		e.middle = middle / float64(n)
		scatter := robustSigmaNear(g.abs, 2, sigma)
		cut := sigma
		if round >= cold {
			sigma = max(min(scatter, firstCut), g.noise, 0.002)
		}
		e.sigma, e.misses = max(scatter, g.noise, leastNoise), scatter
		inv, ok := g.covariance(&q, e)
		if !ok {
			e.n = 0
			return
		}
		step := q.apply(&inv)
		e.s += min(max(step[0], -0.5), 0.5)
		e.r = max(e.r+min(max(step[1], -0.2), 0.2), 0.05)
		if !g.clear {
			g.along = course{}
		}
		g.along = course{g.along.turn + step[2], g.along.bend + step[3]}
		e.spread(&inv, &toFace, g.ur, max(beyondNoise(scatter, g.noise, len(g.abs)), leastNoise))
		still := settled
		if rounds == heldRounds {
			still = heldSettled
		}
		if round == rounds-1 || round > cold && math.Abs(step[0])+math.Abs(step[1]) < still {
			g.last, g.cut, g.sigma = o, cut, sigma
			return
		}
	}
}

// beyondNoise is the scatter of n points where it is more than the noise by more than two of its own standard
// deviations, else the noise: few points often scatter by more than the many that told it, and by chance. The
// standard deviation of 1.4826 times the median of absolute normal residuals is 1.17 of it over the root of n,
// since it is 37 % efficient beside the root mean square (Rousseeuw and Croux 1993).
func beyondNoise(scatter, noise float64, n int) float64 {
	const own = 1 / (1.4142135623730951 * 0.606) // √2 and the root of 0.3675
	if scatter <= noise*(1+float64(2*own/math.Sqrt(float64(n)))) {
		return noise
	}
	return scatter
}

// counts reports whether a point may be one of the roll's, and where it lies.
func (g *rollFit) counts(o *roll, p *rollPoint) (at rollPlace, ok bool) {
	px, py := p.y-o.c.S, p.h-o.c.H
	// Most points lie on the face: what is cheap to tell comes first.
	v := float64(px*o.t.S) + float64(py*o.t.H)
	if v <= 0 || p.off {
		return at, false
	}
	at.v, at.w = v, float64(px*o.n.S)+float64(py*o.n.H)
	d2 := float64(px*px) + float64(py*py)
	if d2 > (o.r+onRoll)*(o.r+onRoll) || !at.onArc() || g.sunk > 0 && at.v < at.w*tanSmoothed {
		return at, false
	}
	at.d = math.Sqrt(d2)
	at.ux, at.uy = px/at.d, py/at.d
	at.d += g.sunk
	return at, at.d >= o.r-onRoll && float64(p.ny*at.ux)+float64(p.nh*at.uy) >= 0.5
}

// covariance adds what is known beforehand and inverts.
func (g *rollFit) covariance(q *normalEq, e *edge) (inv [maxUnknowns]row, ok bool) {
	v := e.sigma * e.sigma
	q.a[1][1] += v / (g.ur * g.ur)
	q.b[1] += float64(v / (g.ur * g.ur) * (g.r0 - e.r))
	held := heldCourse{g.turn * alongScale, tracedBend}
	var last *course
	if g.clear {
		last = &g.along
	}
	held.add(q, 2, e.sigma, last)
	return q.inverse()
}

// spread takes the uncertainties of s and r from the inverse, for points that scatter by so much.
func (e *edge) spread(inv *[maxUnknowns]row, toFace *[rollUnknowns][3]float64, ur, scatter float64) {
	v := e.sigma * e.sigma
	less := scatter * scatter / v
	for i := range 2 {
		e.prior[i] = float64(inv[i][1] * v / ur)
		for k := range 3 {
			e.toFace[i][k] = 0
			for j := range toFace {
				e.toFace[i][k] -= float64(inv[i][j] * toFace[j][k])
			}
		}
		for j := range 2 {
			e.data[i][j] = less * (float64(v*inv[i][j]) - float64(inv[i][1]*inv[j][1]*v*v/(ur*ur)))
		}
	}
}

// arcs lists where on the roll the points of a fit's last round lay.
func (g *rollFit) arcs(e *edge) {
	o := &g.last
	e.phis = make([]float64, 0, len(g.abs))
	for _, i := range g.pick(o) {
		if at, ok := g.counts(o, &g.pts[i]); ok && tukey((at.d-o.r)/g.uneven.of(&at), g.cut) > 0 {
			e.phis = append(e.phis, at.phi())
		}
	}
}
