package gapflush

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// raw is what one mesh shows at a station.
type raw struct {
	along  float64
	frame  frame
	state  State
	why    string
	side   [2]sideState
	seenA  [2]bool // faces fitted
	curves [2]curve
	shows  [2]evidence  // of a scan's first look
	forms  [2]*formSeen // of its last, where it is one of those that say what form the edges have
	spread float64      // mm, spacing of points
	outU   bool         // an outward direction was found
	lines  [2]line
	ends   [2]float64
	traced bool // frame, lines, ends and curves stand
	apart  bool // as known.apart

	wellKnown [2]bool // the radii were, when webs were looked for
	plain     bool    // the surface runs on under P
	joined    bool    // one surface joins what was taken for two panels
	ended     bool    // the surface lies on one side of P alone, and not near it
	besideGap float64 // mm toward B, where the surface shows a gap that the path runs beside; 0: it shows none

	grazedU   [2]float64 // as known.grazedU
	thinnedU  float64    // mm, standard uncertainty of a nose for what thinning leaves
	points    []Point2   // for its picture, as Station.Points and Station.Profile
	profile   [][]Point2
	unnoticed float64 // mm, by which a web may have moved a short arc of this station alone
}

// worker holds one goroutine's scratch memory.
type worker struct {
	runs  []run
	a, b  []pt
	zone  []zonePoint
	face  faceRoom
	near  []nearFace
	roll  rollFit
	trace tracing
	kept  []Point2
	cuts  cutChains

	covers [coverCuts]cover
}

// cutter measures stations on one patch.
type cutter struct {
	patch     *patch
	path      *polyline
	walked    *walked
	seam      *Seam
	reference bool // the mesh that says where outside is; its points come from its faces, a scan's are its vertices
}

const (
	defaultRadius  = 1.5 // mm, where neither inspection nor reference gives one
	defaultRadiusU = 0.5
	divergence     = 15 * math.Pi / 180
	// slantwise is the cotangent of 40°: a path may be drawn some 20° slantwise; at twice that it crosses
	// the gap, and which side is A and which way the seam runs is no longer what it says.
	slantwise  = 1.19
	minCovered = 0.6 // share of the face zone's cells (1 mm by a quarter of the band) with points
	layerLimit = 0.3
	// turnedEnough is by how much, radians, a frame turns at most that need not be turned once more.
	turnedEnough = 0.02
)

// gather takes the points a station is measured from: none lies farther aside than the
// face zone behind an edge that lies as far aside as edges are looked for.
func (c *cutter) gather(w *worker, r *frame) { c.gatherAlong(w, r, reachAlong) }

// gatherAlong takes those up to along before and after the station; of a reference all.
func (c *cutter) gatherAlong(w *worker, r *frame, along float64) {
	c.gatherWithin(w, r, along, min(c.seam.Window, c.farthest()))
	w.b = mirror(w.a, w.b)
}

// farthest is how far from the path, mm, a face zone may reach.
func (c *cutter) farthest() float64 {
	return max(float64(gapReach+aside+c.seam.Face[1]), seedFar+aside)
}

func (c *cutter) gatherWithin(w *worker, r *frame, along, window float64) {
	if c.reference {
		w.a, w.runs = c.patch.samples(r, window, w.runs, w.a)
	} else {
		w.a, w.runs = c.patch.vertices(r, along, window, w.runs, w.a)
	}
}

func (w *worker) side(k Side) []pt {
	if k == A {
		return w.a
	}
	return w.b
}

// measure cuts the station at arc length s. before, when not nil, is the same
// station measured with less known: what does not hang on that is taken over, and
// whether there is a seam at all is looked at last.
func (c *cutter) measure(w *worker, s float64, kn known, hint geom.Vec, before *raw) raw {
	o := c.fit(w, s, kn, hint, before)
	if before != nil && !c.reference && o.outU {
		c.picture(w, &o, before.traced)
	}
	c.place(&o, w, before != nil)
	if before != nil {
		o.state, o.why = c.orDoubled(w, &o, o.state, o.why)
	}
	return o
}

func (c *cutter) fit(w *worker, s float64, kn known, hint geom.Vec, before *raw) (o raw) {
	switch {
	case before == nil:
		o = c.trace(w, s, kn, hint)
	case before.traced:
		o = raw{along: before.along, frame: before.frame, curves: before.curves, spread: before.spread, outU: true, lines: before.lines, ends: before.ends, traced: true}
		c.gatherAlong(w, &o.frame, c.seam.Band)
	default:
		o = *before
	}
	if o.state != "" {
		return o
	}
	o.apart, o.grazedU = kn.apart, kn.grazedU
	if kn.thinned > 0 {
		o.thinnedU = sticksOut * kn.noise
	}
	refuse := func(st State, why string) raw {
		o.state, o.why = st, why
		return o
	}
	for k := A; k <= B; k++ {
		start := o.curves[k].s0
		if before != nil && before.side[k].edge.found && before.side[k].edge.kind == kn.form[k] {
			start = before.side[k].edge.s
		}
		var near *face
		var found *edge
		if before != nil && before.seenA[k] {
			near = &before.side[k].face
			if e := &before.side[k].edge; e.found && e.kind == Round && kn.form[k] == Round && kn.sunk[k] == 0 && !kn.held[k] && before.wellKnown[k] {
				found = e
			}
		}
		if st, why := c.fitSide(w, &o, k, start, kn, before == nil || c.reference, near, found); st != "" {
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
			o.state, o.why = NoseUnseen, o.unseenWhy(k, kn.radius[k])
		}
	}
	if before != nil && o.state == Measured {
		if why := c.walls(w, &o, &kn); why != "" {
			return refuse(NoseUnseen, why)
		}
	}
	return o
}

// unseenWhy says why a side has no nose, its roll being expected to have a radius.
func (o *raw) unseenWhy(k Side, radius float64) string {
	switch e := &o.side[k].edge; {
	case e.apart > 0:
		return fmt.Sprintf("What lies before side %s's edge leaves its face by %.1f mm: a web or another part hides where it ends.", sideName[k], 2*e.apart)
	case e.misfit > 0:
		return fmt.Sprintf("Side %s's edge has a radius of %.1f mm where %.1f mm was expected: a web bends it, or the radius is not right.", sideName[k], e.misfit, radius)
	case e.solid:
		return fmt.Sprintf("Points lie where side %s's edge would be solid: a seal or another part was taken for a piece of it.", sideName[k])
	case e.leans:
		return fmt.Sprintf("What lies before side %s's edge faces another way than the edge would there: a seal or another part.", sideName[k])
	case e.ledge > 0:
		return stepsDown(k, e.ledge)
	case e.ragged:
		return fmt.Sprintf("What was taken for side %s's edge leaves its face and is no roll: a bead of sealant or another part lies on it, or the panel's edge turns away from the path here.", sideName[k])
	case e.short:
		return fmt.Sprintf("Too little of side %s's edge lies before what may be a web to tell its radius; give the radius.", sideName[k])
	}
	return fmt.Sprintf("Too little of side %s's edge was seen to say where its nose is.", sideName[k])
}

// trace finds the two skins and follows their edges; the station's frame turns with them.
func (c *cutter) trace(w *worker, s float64, kn known, hint geom.Vec) (o raw) {
	refuse := func(st State, why string) raw {
		o.state, o.why = st, why
		return o
	}
	o.along = s
	p, f := c.path.at(s), c.path.tangent(s)
	o.frame = frame{p: p, f: f}
	dir, st, why := c.outward(w, s, hint)
	if st != "" {
		return refuse(st, why)
	}
	o.frame, o.outU = newFrame(p, f, dir), true
	c.gather(w, &o.frame)
	o.spread = spacing(w.a)
	if st, why := c.tooSparse(w, o.spread); st != "" {
		return refuse(st, why)
	}
	var knots [2][]knot
	lines, ends, st, why := c.findSides(w, o.spread)
	if st != "" {
		return refuse(st, why)
	}
	// Slabs cut slantwise smear the edges; once turned they are cut again.
	for range 3 {
		for k := A; k <= B; k++ {
			knots[k] = nil
			if kn.form[k] != Round {
				knots[k] = w.trace.straight(w.side(k), lines[k], ends[k])
			}
			if len(knots[k]) < 3 {
				knots[k] = w.trace.roll(w.side(k), lines[k], ends[k], max(kn.radius[k], 0.3))
			}
		}
		if o.turn(w, c, dir, knots, &lines, &ends) < turnedEnough {
			break
		}
	}
	if on, aside := f.Dot(o.frame.f), math.Abs(f.Dot(o.frame.a)); on < slantwise*aside {
		return refuse(OffPath, fmt.Sprintf("The path crosses the gap at %.0f° here; draw it along the gap.", geom.Atan2(aside, on)*180/math.Pi))
	}
	for k := A; k <= B; k++ {
		cv, ok := fitCurve(knots[k])
		if !ok {
			s0 := ends[k]
			if kn.form[k] == Round {
				// The skin ends for skinEnd where a roll has turned by 30°.
				s0 -= float64(0.5 * kn.radius[k])
			}
			cv = curve{s0: s0, h0: lines[k].at(0, s0), h1: lines[k].g}
		}
		o.curves[k] = cv
	}
	if o.curves[A].slabs > 0 && o.curves[B].slabs > 0 {
		if d := math.Abs(geom.Atan(o.curves[A].s1) + geom.Atan(o.curves[B].s1)); d > divergence {
			return refuse(NotParallel, fmt.Sprintf("The two edges run apart by %.0f°, more than 15°.", d*180/math.Pi))
		}
	}
	o.lines, o.ends, o.traced = lines, ends, true
	return o
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
	turned = math.Abs(slope)
	if turned < turnedEnough && !c.reference {
		c.gatherAlong(w, r, c.seam.Band) // the edges are followed no more
	} else {
		c.gather(w, r)
	}
	for k := A; k <= B; k++ {
		cv, ok := fitCurve(knots[k])
		if !ok {
			continue
		}
		l := lines[k]
		l.h0, l.g = cv.h0-float64(l.m*cv.s0), cv.h1
		lines[k] = l
	}
	return turned
}

// yBefore is where a knot of the new frame lay across the old one.
func yBefore(old frame, r *frame, n knot, flip float64) float64 {
	v := r.p.AddScaled(n.x, r.f).AddScaled(flip*n.y, r.a).AddScaled(n.h, r.u)
	_, s, _ := old.local(v)
	return flip * s
}
