package gapflush

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// known is what is taken for granted at a station before it is measured.
type known struct {
	curvature  [2]float64 // of the faces across the seam, 1/mm
	curvatureU [2]float64
	radius     [2]float64 // mm
	radiusU    [2]float64
	pitch      [2]float64 // mm, spacing of points on the edges hereabouts; 0: not known
	noise      float64    // mm
}

// raw is what one mesh shows at a station.
type raw struct {
	along  float64
	frame  frame
	state  State
	why    string
	side   [2]sideState
	seenA  [2]bool // faces fitted
	curves [2]curve
	spread float64 // mm, spacing of points
	outU   bool    // an outward direction was found
	lines  [2]line
	ends   [2]float64
	traced bool // frame, lines, ends and curves stand
}

// worker holds one goroutine's scratch memory.
type worker struct {
	ids  []int32
	a, b []pt
	zone []zonePoint
}

// cutter measures stations on one patch.
type cutter struct {
	patch     *patch
	path      *polyline
	seam      *Seam
	reference bool // the mesh that says where outside is; its points come from its faces, a scan's are its vertices
}

const (
	defaultRadius  = 1.5 // mm, where neither inspection nor reference gives one
	defaultRadiusU = 0.5
	divergence     = 15 * math.Pi / 180
	minCovered     = 0.6 // share of the face zone's cells (1 mm by a quarter of the band) with points
	layerLimit     = 0.3
)

func (c *cutter) gather(w *worker, r *frame) {
	if c.reference {
		w.a, w.ids = c.patch.samples(r, c.seam.Window, w.ids, w.a)
	} else {
		w.a, w.ids = c.patch.vertices(r, c.seam.Window, w.ids, w.a)
	}
	w.b = mirror(w.a, w.b)
}

func (w *worker) side(k Side) []pt {
	if k == A {
		return w.a
	}
	return w.b
}

// measure cuts the station at arc length s. before, when not nil, is the same
// station measured with less known: what does not hang on that is taken over.
func (c *cutter) measure(w *worker, s float64, kn known, hint geom.Vec, before *raw) (o raw) {
	switch {
	case before == nil:
		o = c.trace(w, s, kn, hint)
	case before.traced:
		o = raw{along: before.along, frame: before.frame, curves: before.curves, spread: before.spread, outU: true, lines: before.lines, ends: before.ends, traced: true}
		c.gather(w, &o.frame)
	default:
		o = *before
	}
	if o.state != "" {
		return o
	}
	refuse := func(st State, why string) raw {
		o.state, o.why = st, why
		return o
	}
	for k := A; k <= B; k++ {
		start := o.curves[k].s0
		if before != nil && before.side[k].edge.found {
			start = before.side[k].edge.s
		}
		if st, why := c.fitSide(w, &o, k, start, kn, before == nil || c.reference); st != "" {
			return refuse(st, why)
		}
	}
	if before != nil {
		if st, why := c.bridged(&o, w); st != "" {
			return refuse(st, why)
		}
	}
	o.state = Measured
	for k := A; k <= B; k++ {
		if !o.side[k].edge.found {
			o.state = NoseUnseen
			o.why = fmt.Sprintf("Too little of side %s's edge was seen to say where its nose is.", sideName[k])
			if r := o.side[k].edge.misfit; r > 0 {
				o.why = fmt.Sprintf("Side %s's edge has a radius of %.1f mm where %.1f mm was expected: a web bends it, or the radius is not right.", sideName[k], r, kn.radius[k])
			}
		}
	}
	return o
}

// trace finds the two skins and follows their edges; the station's frame turns with them.
func (c *cutter) trace(w *worker, s float64, kn known, hint geom.Vec) (o raw) {
	o.along = s
	p, f := c.path.at(s), c.path.tangent(s)
	refuse := func(st State, why string, args ...any) raw {
		o.state, o.why = st, fmt.Sprintf(why, args...)
		return o
	}
	dir, share, ids := c.patch.outward(p, w.ids)
	w.ids = ids
	o.frame = frame{p: p, f: f}
	if share < 0 {
		return refuse(OffPath, "No surface lies within 20 mm of the path and 6 mm of its height.")
	}
	if share < outwardShare {
		return refuse(TwoSkins, "Faces look both ways here, so the outer skin cannot be told.")
	}
	if hint != (geom.Vec{}) && dir.Dot(hint) < 0 {
		return refuse(TwoSkins, "The faces look inward here compared with the reference; turn the scan's winding.")
	}
	if dir.AddScaled(-dir.Dot(f), f).Norm() < 0.5 {
		return refuse(OffPath, "The path runs into the surface instead of along it.")
	}
	o.frame, o.outU = newFrame(p, f, dir), true
	c.gather(w, &o.frame)
	o.spread = spacing(w.a)
	if widest := c.widest(); !c.reference && o.spread > widest && !math.IsInf(o.spread, 1) {
		return refuse(TooCoarse, "Points lie %.1f mm apart; a face zone needs them within %.1f mm of one another.", o.spread, widest)
	}
	var lines [2]line
	var ends [2]float64
	var knots [2][]knot
	for k := A; k <= B; k++ {
		l, end, st, why := c.findSide(w.side(k), k, o.spread)
		if st != "" {
			return refuse(st, "%s", why)
		}
		lines[k], ends[k] = l, end
	}
	// Slabs cut slantwise smear the edges; once turned they are cut again.
	for range 3 {
		for k := A; k <= B; k++ {
			knots[k] = traceEdge(w.side(k), lines[k], ends[k], max(kn.radius[k], 0.3))
		}
		if o.turn(w, c, dir, knots, &lines, &ends) < 0.02 {
			break
		}
	}
	for k := A; k <= B; k++ {
		cv, ok := fitCurve(knots[k])
		if !ok {
			s0 := ends[k]
			if c.seam.Edges[k] == Round {
				// The skin ends for skinEnd where a roll has turned by 30°.
				s0 -= 0.5 * kn.radius[k]
			}
			cv = curve{s0: s0, h0: lines[k].at(0, s0), h1: lines[k].g}
		}
		o.curves[k] = cv
	}
	if o.curves[A].slabs > 0 && o.curves[B].slabs > 0 {
		if d := math.Abs(math.Atan(o.curves[A].s1) + math.Atan(o.curves[B].s1)); d > divergence {
			return refuse(NotParallel, "The two edges run apart by %.0f°, more than 15°.", d*180/math.Pi)
		}
	}
	o.lines, o.ends, o.traced = lines, ends, true
	return o
}

// spacing is the distance of points spread evenly at the density of the outward
// ones beside the gap, on the side that has more of them; infinite without any.
func spacing(pts []pt) float64 {
	const near, far = 4.0, 16.0 // mm from P
	var n [2]int
	for i := range pts {
		if y := math.Abs(pts[i].y); pts[i].nh > facing && y > near && y < far && math.Abs(pts[i].h) < 6 {
			k := A
			if pts[i].y > 0 {
				k = B
			}
			n[k]++
		}
	}
	most := max(n[A], n[B])
	if most == 0 {
		return math.Inf(1)
	}
	return math.Sqrt((far - near) * 2 * reachAlong / float64(most))
}

// widest is the spacing at which a face zone holds just the points its fit asks for.
func (c *cutter) widest() float64 {
	return math.Sqrt(2 * c.seam.Band * (c.seam.Face[1] - c.seam.Face[0]) / minOnFace)
}

// findSide finds a side's skin in the middle slab and where it ends.
func (c *cutter) findSide(pts []pt, k Side, spread float64) (l line, end float64, st State, why string) {
	half := max(3.0, 1.5*min(spread, 3))
	l, ok := findSkin(pts, half)
	if !ok {
		return l, 0, SideMissing, fmt.Sprintf("Side %s has no surface beside the gap.", sideName[k])
	}
	end, continuous, ok := skinEnd(pts, l, half, 1.25*max(min(spread, 2.5), 0.8))
	if !ok {
		return l, 0, SideMissing, fmt.Sprintf("Side %s ends more than %.0f mm from the path.", sideName[k], gapReach)
	}
	if continuous {
		if dips(pts, l, half) {
			return l, 0, Bridged, "Faces run across the gap, so its edges cannot be seen."
		}
		return l, 0, OffPath, "The surface runs on without a seam under the path."
	}
	return l, end, "", ""
}

// dips reports whether a skin that runs on has a groove near P all the same:
// some millimetre of it lies low.
func dips(pts []pt, l line, half float64) bool {
	const groove = 0.15 // mm, five times the noise of a usual scan
	for y := -8.0; y < 8; y++ {
		var e []float64
		for _, p := range pts {
			if math.Abs(p.x) <= half && p.y >= y && p.y < y+1.5 && p.nh > 0 {
				e = append(e, p.h-l.at(p.x, p.y))
			}
		}
		if len(e) > 2 && median(e) < -groove {
			return true
		}
	}
	return false
}

// turn turns the frame to the tangent of the mid-line of the two edges,
// carries what was found along and returns by how much it turned.
func (o *raw) turn(w *worker, c *cutter, dir geom.Vec, knots [2][]knot, lines *[2]line, ends *[2]float64) (turned float64) {
	ca, okA := fitCurve(knots[A])
	cb, okB := fitCurve(knots[B])
	if !okA || !okB {
		return 0
	}
	old := o.frame
	slope, rise := (ca.s1-cb.s1)/2, (ca.h1+cb.h1)/2
	f := old.f.AddScaled(slope, old.a).AddScaled(rise, old.u).Unit()
	o.frame = newFrame(old.p, f, dir)
	r := &o.frame
	for k := A; k <= B; k++ {
		flip := 1.0
		if k == B {
			flip = -1
		}
		for i, n := range knots[k] {
			v := old.p.AddScaled(n.x, old.f).AddScaled(flip*n.y, old.a).AddScaled(n.h, old.u)
			x, s, h := r.local(v)
			knots[k][i] = knot{x, flip * s, h}
		}
		ends[k] += knots[k][0].y - 0 - yBefore(old, r, knots[k][0], flip)
	}
	c.gather(w, r)
	for k := A; k <= B; k++ {
		cv, ok := fitCurve(knots[k])
		if !ok {
			continue
		}
		l := lines[k]
		l.h0, l.g = cv.h0-float64(l.m*cv.s0), cv.h1
		lines[k] = l
	}
	return math.Abs(slope)
}

// yBefore is where a knot of the new frame lay across the old one.
func yBefore(old frame, r *frame, n knot, flip float64) float64 {
	v := r.p.AddScaled(n.x, r.f).AddScaled(flip*n.y, r.a).AddScaled(n.h, r.u)
	_, s, _ := old.local(v)
	return flip * s
}

// fitSide fits a side's face and edge, the zone following the shoulder.
func (c *cutter) fitSide(w *worker, o *raw, k Side, s float64, kn known, pooling bool) (State, string) {
	cv, l, end := &o.curves[k], o.lines[k], o.ends[k]
	band := c.seam.Band
	if cv.slabs > 0 && cv.s2 != 0 {
		// Over a fifth of the edge's radius its cross-section turns too far to be carried.
		band = min(band, max(0.2/math.Abs(2*cv.s2), 4))
	}
	w.zone = carry(w.side(k), cv, band, w.zone)
	ss := &o.side[k]
	// The zone follows the shoulder until it moves by too little to matter: over
	// 5 µm one point in some thousand enters or leaves it, and noise and curvatures,
	// for which the first look is, hang on the shoulder still less.
	const rounds = 3
	still := 0.005
	if pooling {
		still = 0.02
	}
	moved := math.Inf(1)
	for round := range rounds {
		last := round == rounds-1 || moved < still
		f, ok := fitFace(w.zone, cv, l, s, c.seam.Face, kn.curvature[k], kn.noise, band, o.spread, pooling && last)
		if !ok || f.covered < minCovered {
			if c.beyond(w.zone, l, s) {
				return ThirdPanel, fmt.Sprintf("Another edge lies inside the face zone of side %s.", sideName[k])
			}
			return NoFace, fmt.Sprintf("The face zone of side %s is not there or has holes.", sideName[k])
		}
		if f.layer > layerLimit || f.double && !c.reference {
			return TwoSkins, fmt.Sprintf("Side %s shows two layers and the outer one cannot be told.", sideName[k])
		}
		if c.edgeWithin(w.zone, l, s, f.n) {
			return ThirdPanel, fmt.Sprintf("Another edge lies inside the face zone of side %s.", sideName[k])
		}
		ss.face, ss.uc, o.seenA[k] = f, kn.curvatureU[k], true
		if c.seam.Edges[k] == Round {
			ss.edge = fitRound(w.zone, rollTask{&f, s, kn.radius[k], kn.radiusU[k], kn.noise, o.spread, band})
		} else {
			ss.edge = fitStraight(w.zone, &f, s, kn.noise, c.seam.Edges[k])
		}
		if !ss.edge.found {
			break
		}
		moved, s = math.Abs(ss.edge.s-s), ss.edge.s
		if last {
			break
		}
	}
	ss.carryCheck(w.zone, s)
	ss.pitch = ss.edge.spacing(band)
	if r := kn.radius[k]; c.seam.Edges[k] == Round && kn.pitch[k] > r {
		return TooCoarse, fmt.Sprintf("Points on side %s's edge lie %.1f mm apart, more than its radius of %.1f mm.", sideName[k], kn.pitch[k], r)
	}
	if !ss.edge.found {
		ss.edge.s, ss.edge.r, ss.edge.seen = end-0.5*kn.radius[k], kn.radius[k], 0
		ss.edge.u = max(o.spread, kn.radius[k])
	}
	return "", ""
}

// lean returns by how much a point's normal leans over from the skin's, toward the gap.
func (l line) lean(p *zonePoint) float64 {
	return math.Atan2(p.ny+float64(l.m*p.nh), p.nh-float64(l.m*p.ny))
}

const (
	edgeLean = 35 * math.Pi / 180 // a skin's feature lines lean less
	edgeOver = 2.0                // radians; more looks inward: a hem's return
)

// edgeWithin reports whether an edge runs through a face zone of n points: points
// near the skin lean as a roll's do, more of them than strays.
func (c *cutter) edgeWithin(pts []zonePoint, l line, s float64, n int) bool {
	const above, below, few, share = 0.5, 2.5, 6, 0.05
	lean := 0
	for i := range pts {
		p := &pts[i]
		if d := s - p.y; d < c.seam.Face[0] || d > c.seam.Face[1] {
			continue
		}
		if e := p.h - l.at(p.x, p.y); e > above || e < -below {
			continue
		}
		if t := math.Abs(l.lean(p)); t > edgeLean && t < edgeOver {
			lean++
		}
	}
	return lean >= few && float64(lean) >= share*float64(n)
}

// beyond reports whether a skin goes on behind a break in the face zone with
// an edge at the break: points there lean toward it.
func (c *cutter) beyond(pts []zonePoint, l line, s float64) bool {
	lean, behind := 0, 0
	for i := range pts {
		p := &pts[i]
		d := s - p.y
		if d < c.seam.Face[0] || d > c.seam.Face[1]+6 {
			continue
		}
		if t := math.Abs(l.lean(p)); t > edgeLean && t < edgeOver {
			lean++
		} else if p.nh > facing {
			behind++
		}
	}
	return lean >= 4 && behind >= 8
}

// bridged looks for faces across the middle of the gap. Above the noses they
// hide the edges; deeper ones count while a nose was not seen.
func (c *cutter) bridged(o *raw, w *worker) (State, string) {
	r := &o.frame
	sa, sb := &o.side[A], &o.side[B]
	ya, yb := sa.edge.s+sa.edge.r, -(sb.edge.s + sb.edge.r)
	if yb-ya < 0.1 {
		return "", ""
	}
	mid := (ya + yb) / 2
	top := min(sa.face.at0(sa.edge.s), sb.face.at0(sb.edge.s))
	r0 := max(sa.edge.r, sb.edge.r)
	floor := top - r0 - 0.2
	if sa.edge.seen < 80*math.Pi/180 || sb.edge.seen < 80*math.Pi/180 {
		floor = top - r0 - 3
	}
	slope := (o.curves[A].s1 - o.curves[B].s1) / 2
	w.ids = collect(c.patch.faces, r.p, 3*cellSize, w.ids[:0])
	w.ids = append(w.ids, c.patch.large...)
	const bins = 16
	var hit [bins]bool
	band := min(c.seam.Band, 8)
	for _, f := range w.ids {
		var v [3][3]float64
		beyond := 0
		for k, i := range c.patch.f[f] {
			d := c.patch.v[i].Sub(r.p)
			x := d.Dot(r.f)
			v[k][0], v[k][1] = d.Dot(r.a)-mid-float64(slope*x), x
			if v[k][0] >= 0 {
				beyond++
			}
		}
		if beyond == 0 || beyond == 3 {
			continue
		}
		for k, i := range c.patch.f[f] {
			v[k][2] = c.patch.v[i].Sub(r.p).Dot(r.u)
		}
		p, q, ok := cutTriangle(&v, 0) // S is x, H is h here
		if !ok || max(p.H, q.H) < floor || min(p.H, q.H) > top+6 {
			continue
		}
		i, j := binOf(min(p.S, q.S), band, bins), binOf(max(p.S, q.S), band, bins)
		for ; i <= j; i++ {
			if i >= 0 && i < bins {
				hit[i] = true
			}
		}
	}
	n := 0
	for _, h := range hit {
		if h {
			n++
		}
	}
	if n*2 >= bins || hit[bins/2-1] || hit[bins/2] {
		return Bridged, "Faces run across the gap, so its edges cannot be seen."
	}
	return "", ""
}

func binOf(x, band float64, bins int) int {
	return int(math.Floor((min(max(x, -1000), 1000) + band) / (2 * band) * float64(bins)))
}
