package gapflush

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/order"
)

// findSides finds the two skins in the middle slab and where each ends.
func (c *cutter) findSides(w *worker, spread float64) (l [2]line, end [2]float64, st State, why string) {
	half, width := max(3.0, 1.5*min(spread, 3)), 1.25*max(min(spread, 2.5), 0.8)
	var continuous, ok [2]bool
	w.trace.laid = c.patch.thinned > 0
	for k := A; k <= B; k++ {
		if l[k], ok[k] = w.trace.findSkin(w.side(k), half); !ok[k] {
			if why := w.offHeight(k); why != "" {
				return l, end, OffPath, why
			}
			if seen := nearestSeen(w.side(k)); seen > half {
				return l, end, SideMissing, with(fmt.Sprintf("Side %s has a hole here: its surface is seen only %.0f mm before or after the station.", sideName[k], seen), doScanThere)
			}
			return l, end, SideMissing, with(fmt.Sprintf("Side %s has no surface beside the gap.", sideName[k]), doScanPanel)
		}
		end[k], continuous[k], ok[k] = w.trace.skinEnd(w.side(k), l[k], half, width, math.Inf(1))
	}
	for k := A; k <= B; k++ {
		o := 1 - k
		if ends := ok[o] && !continuous[o]; ends && (continuous[k] || ok[k] && end[k] > -end[o]) {
			if e, runs, found := w.trace.skinEnd(w.side(k), l[k], half, width, -end[o]); found && !runs {
				end[k], continuous[k], ok[k] = e, false, true
			}
		}
	}
	for k := A; k <= B; k++ {
		switch {
		case !ok[k]:
			return l, end, SideMissing, with(fmt.Sprintf("Side %s ends more than %.0f mm from the path.", sideName[k], gapReach), doCentre)
		case continuous[k] && dips(w.side(k), l[k], half):
			return l, end, Bridged, "Faces run across the gap, so its edges cannot be seen."
		case continuous[k]:
			return l, end, OffPath, "The surface runs on without a seam under the path."
		}
	}
	return l, end, "", ""
}

// nearestSeen returns how far before or after the station, mm, a side's surface is seen, by as many
// points as a skin is found from; 0 where it is not seen at all.
func nearestSeen(pts []pt) float64 {
	var far []float64
	for i := range pts {
		if p := &pts[i]; p.y >= -seedFar && p.y <= -seedNear && p.nh > facing && math.Abs(p.h) <= seedHeight {
			far = append(far, math.Abs(p.x))
		}
	}
	if len(far) < minSeeds {
		return 0
	}
	return order.Nth(far, minSeeds-1)
}

// offHeight says that a side's surface lies too high over the path or too low under it to be looked for, as where
// a straight path runs under a vaulted body; "" where it does not, or is not seen at all.
func (w *worker) offHeight(k Side) string {
	var at []float64
	for _, p := range w.side(k) {
		if p.y >= -seedFar && p.y <= -seedNear && p.nh > facing {
			at = append(at, p.h)
		}
	}
	if len(at) < minSeeds {
		return ""
	}
	switch h := median(at); {
	case h > seedHeight:
		return with(fmt.Sprintf("Side %s's surface lies %.0f mm above the path here.", sideName[k], h), doCentre)
	case h < -seedHeight:
		return with(fmt.Sprintf("Side %s's surface lies %.0f mm below the path here.", sideName[k], -h), doCentre)
	}
	return ""
}

// dips reports whether a skin that runs on has a groove near P all the same: some
// millimetre of it lies low, and it is level again on either side.
func dips(pts []pt, l line, half float64) bool {
	const (
		groove = 0.15 // mm, five times the noise of a usual scan
		width  = 1.5  // mm
		reach  = 14   // mm from P
	)
	level, low := false, false // seen so far
	for y := -reach; y < reach; y++ {
		var e []float64
		for _, p := range pts {
			if d := p.y - float64(y); math.Abs(p.x) <= half && d >= 0 && d < width && p.nh > 0 {
				e = append(e, p.h-l.at(p.x, p.y))
			}
		}
		if len(e) <= 2 {
			continue
		}
		switch m := median(e); {
		case m > -groove/2 && low:
			return true
		case m > -groove/2:
			level = true
		case m < -groove && level && y >= -aside && y < aside:
			low = true
		}
	}
	return false
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

// minSharp is how many points a narrow band holds at least, for a course of the fourth order.
const minSharp = 50

// fitSide fits a side's face and edge, the zone following the shoulder; near is the face of
// an earlier look, and before the edge that it found, with webs looked for; either may be nil.
func (c *cutter) fitSide(w *worker, o *raw, k Side, s float64, kn known, pooling bool, near *face, before *edge) (State, string) {
	cv, l, end := &o.curves[k], o.lines[k], o.ends[k]
	band := c.seam.Band
	if cv.slabs > 0 && cv.s2 != 0 {
		// Over a fifth of the edge's radius its cross-section turns too far to be carried.
		band = min(band, max(0.2/math.Abs(2*cv.s2), 4))
	}
	lo, hi := c.needed(s, k, &kn, pooling)
	w.zone = carry(w.side(k), cv, band, lo, hi, w.zone)
	ss := &o.side[k]
	o.wellKnown[k] = kn.radiusU[k] <= wellKnown
	around := s
	// The zone follows the shoulder until it moves by too little to matter: over 20 µm one point in some
	// five hundred enters or leaves it. Noise and curvatures, for which a scan's first look is, hang on it still less.
	const rounds = 3
	still := 0.02
	if pooling {
		if still = 0.3; c.reference {
			still = 0.005 // there is no noise to hide it
		}
	}
	for round := 0; round < rounds; round++ {
		if math.Abs(s-around) > zoneRoom {
			around = s
			lo, hi = c.needed(s, k, &kn, pooling)
			w.zone = carry(w.side(k), cv, band, lo, hi, w.zone)
		}
		f, ok := fitFace(&w.face, w.zone, cv, l, s, c.seam.Face, kn.curvature[k], kn.noise, band, o.spread, near)
		if ends := ok && f.ends && f.layer <= layerLimit; ends || !ok || f.covered < minCovered {
			return c.noZone(w, o, k, s, ends)
		}
		less := narrow
		if c.reference {
			less = narrow / 2 // there is no noise to average
		}
		if f.sharpness > 0 && band > less && (c.reference || o.spread*o.spread*minSharp < 2*less*(c.seam.Face[1]-c.seam.Face[0])) {
			// A character line crosses the band: it is followed better over less of it.
			band = less
			w.zone = carry(w.side(k), cv, band, lo, hi, w.zone)
			round--
			continue
		}
		if state, why := c.otherFace(w, k, &f, l, s); why != "" {
			return state, why
		}
		ss.face, ss.uc, o.seenA[k] = f, kn.curvatureU[k], true
		near = &ss.face
		if kn.form[k] == Round {
			ss.edge = w.roll.fitRound(w.zone, rollTask{&f, s, before, kn.radius[k], kn.radiusU[k], kn.noise, kn.sunk[k], kn.held[k], o.spread, band, o.otherSide(k), kn.uneven[k]})
		} else {
			ss.edge = fitStraight(w.zone, &f, s, kn.noise, kn.form[k])
		}
		if !ss.edge.found {
			break
		}
		moved := math.Abs(ss.edge.s - s)
		s = ss.edge.s
		found := ss.edge
		before = &found
		if moved < still {
			break
		}
	}
	if ss.edge.found && ss.edge.kind == Round {
		w.roll.believe(&ss.edge, o.spread)
	}
	if state, why := c.otherEdge(w, o, k, &kn, band, pooling); why != "" {
		return state, why
	}
	if pooling {
		ss.face.free(&w.face, w.zone, c.seam.Face, kn.noise, band, kn.apart)
	}
	if pooling && kn.weighed {
		o.shows[k] = c.weigh(w, o, k, s, &kn, band)
		o.shows[k].grazed = c.graze(w, o, k, s, band)
	}
	ss.doubt(w.zone, s, o.spread, &kn, k, kn.form[k] == c.seam.Edges[k])
	if why := c.edgeHeld(o, k, &kn, band); why != "" {
		return TooCoarse, why
	}
	if !ss.edge.found {
		ss.edge.s, ss.edge.r, ss.edge.seen = end-float64(0.5*kn.radius[k]), kn.radius[k], 0
		ss.edge.u = max(o.spread, kn.radius[k], ss.edge.ledge)
	}
	if !pooling && kn.gathers && ss.edge.found && ss.edge.kind == Round {
		o.forms[k] = w.roll.form(&ss.edge, ss.uc, k, &kn)
	}
	return "", ""
}

// noZone says why a side has no face to measure from behind a shoulder at s.
func (c *cutter) noZone(w *worker, o *raw, k Side, s float64, ends bool) (State, string) {
	switch {
	case ends:
		return NoFace, c.zoneTooLong(k)
	case c.beyond(w.zone, o.lines[k], s):
		return ThirdPanel, edgeInZone(k)
	}
	return NoFace, c.noFace(w, o, k, s)
}

func edgeInZone(k Side) string {
	return fmt.Sprintf("Another edge lies inside the face zone of side %s.", sideName[k])
}

// otherFace says of a face that it is not one panel's outer skin; "" where it is.
func (c *cutter) otherFace(w *worker, k Side, f *face, l line, s float64) (State, string) {
	switch {
	case f.layer > layerLimit || f.double && !c.reference:
		return TwoSkins, fmt.Sprintf("Side %s shows two layers and the outer one cannot be told.", sideName[k])
	case f.stepped && !c.reference:
		return ThirdPanel, with(fmt.Sprintf("The face zone of side %s lies on two panels, one before and one after the station, at different heights.", sideName[k]), doBeforeThird)
	case c.edgeWithin(w.zone, l, s, f.n):
		return ThirdPanel, edgeInZone(k)
	}
	return "", ""
}

// otherEdge takes back an edge that something lies on, and says of one that it ends another part than the face; "" where it does not.
func (c *cutter) otherEdge(w *worker, o *raw, k Side, kn *known, band float64, pooling bool) (State, string) {
	e, f := &o.side[k].edge, &o.side[k].face
	// Smoothed edges leave their rolls where they meet the face.
	if e.found && !c.reference && kn.shared <= 1 && (e.kind == Round || kn.form[k] != c.seam.Edges[k]) {
		if e.kind != Round {
			w.roll.set(w.zone, &rollTask{face: f, s: e.s, r: kn.radius[k], noise: kn.noise, band: band, beyond: o.otherSide(k)})
		}
		e.ragged = w.roll.hollow(e).is()
		e.found = !e.ragged
	}
	if !pooling && e.found && e.kind == Round && c.edgeBefore(w.zone, o.lines[k], e.s) {
		return ThirdPanel, fmt.Sprintf("Another edge lies between the face of side %s and what ends it: a seal, for instance, level with it in the gap.", sideName[k])
	}
	if e.found && !c.reference {
		if d := w.roll.stepsDown(w.zone, f, e.s, c.seam.Face[1], band, kn.noise, max(kn.shared, 1)); d > 0 {
			e.ledge, e.ragged, e.found = d, true, false
			if d > c.seam.Face[0] {
				return ThirdPanel, stepsDown(k, d)
			}
		}
	}
	return "", ""
}

// edgeHeld tells how densely points lie on a side's edge and what that leaves unknown of its form, and says where they lie too far apart for it.
func (c *cutter) edgeHeld(o *raw, k Side, kn *known, band float64) (tooCoarse string) {
	ss := &o.side[k]
	if wide := ss.edge.facet(); ss.edge.found && wide > 0 && !math.IsInf(o.spread, 1) {
		ss.edge.form = max(ss.edge.form, sparseFacet*o.spread*min(o.spread*o.spread/(wide*wide), 1))
	}
	if ss.pitch = ss.edge.spacing(band); o.shows[k].round.ok {
		ss.pitch = o.shows[k].pitch
	}
	return ss.tooCoarse(kn, k, c.seam.Radius[k] > 0)
}

// zoneRoom is how far, mm, a shoulder may move before the points that its fits need are carried anew.
const zoneRoom = 2.0

// needed returns between which y, mm, the points lie that a side's fits look at for a shoulder near s: of
// a roll those on it, of the face those of its zone and of the stretch behind that bends as it does. What is fitted
// as other forms, too, or has walls and facets of any depth, needs all.
func (c *cutter) needed(s float64, k Side, kn *known, pooling bool) (lo, hi float64) {
	if kn.form[k] != Round || pooling && kn.weighed {
		return math.Inf(-1), math.Inf(1)
	}
	r := float64(3 * kn.radius[k])
	zone := c.seam.Face[1] + max(wideBehind*(c.seam.Face[1]-c.seam.Face[0]), behindBreak)
	return s - max(zone, r+1) - zoneRoom - rounding, s + r + 2 + zoneRoom + rounding
}

// farZone is how far behind the edge, mm, a face zone ends that is itself the first suspect: four times as far as is usual.
const farZone = 50.0

// noFace says why a side has no face zone behind a shoulder, and what to change.
func (c *cutter) noFace(w *worker, o *raw, k Side, s float64) string {
	z, window := c.seam.Face, c.seam.Window
	if z[1]+aside > window {
		return with(fmt.Sprintf("The face zone of side %s, %.1f to %.1f mm behind its edge, runs out of the window of %.0f mm.", sideName[k], z[0], z[1], window), doFitWindow)
	}
	if z[1] > farZone {
		return c.zoneTooLong(k)
	}
	if !c.reference && c.filled(w, o, k, s) >= minCovered {
		return with(fmt.Sprintf("The face zone of side %s, %.1f to %.1f mm behind its edge, has too few points, though faces cover it: the scan was thinned there.", sideName[k], z[0], z[1]), doUnthinned)
	}
	return with(fmt.Sprintf("The face zone of side %s, %.1f to %.1f mm behind its edge, is not there or has holes.", sideName[k], z[0], z[1]), doShortenZone)
}

// zoneTooLong says that a side's panel is not as long as its face zone.
func (c *cutter) zoneTooLong(k Side) string {
	z := c.seam.Face
	return with(fmt.Sprintf("The face zone of side %s, %.1f to %.1f mm behind its edge, reaches farther than the panel goes on as one face, or than it was scanned.", sideName[k], z[0], z[1]), doShorten)
}

// doubt gathers what is not known of a side besides the scatter of its fits. spread is
// the spacing of points, mm; the face was fitted for that shoulder.
func (s *sideState) doubt(zone []zonePoint, shoulder, spread float64, kn *known, k Side, asStated bool) {
	s.sunkU, s.formU, s.slidU = kn.sunkU[k], kn.formU[k], 0
	s.assumed = kn.assumedMore(k)
	if kn.thinned > 1 {
		for i := range s.face.cov {
			for l := range s.face.cov[i] {
				s.face.cov[i][l] *= kn.thinned
			}
		}
	}
	if s.edge.kind == Round && s.edge.found {
		// The shorter the arc that is drawn inward, the more it moves along the face.
		sin, _ := geom.Sincos((smoothedFrom + min(s.edge.seen, lastArc)) / 2)
		s.sunkU /= max(sin, 0.3)
		if kn.quiet {
			s.slidU = s.edge.slid(kn.pitch[k], kn.radius[k])
			if q := bulging / s.edge.seen; q > 1 {
				s.sunkU *= q * math.Sqrt(q)
			}
			if s.edge.seen >= tellingArc && s.edge.misses <= exact {
				s.sunkU = 0
			}
		}
	}
	from := carryFrom
	if kn.shared > 1 {
		s.share(kn.shared, kn.noise)
		from += spread // smoothing rounded what lies nearer
	}
	s.carryCheck(zone, shoulder, from)
	s.left()
	if kn.shared <= 1 { // smoothed edges leave their rolls where they meet the face
		s.rag(zone, shoulder, max(kn.noise, s.face.sigma), asStated)
	}
}

const (
	// raggedFrom is how much of a roll, 70°, is to be seen, so that its points would lie on it were it one.
	raggedFrom = 70 * math.Pi / 180
	// raggedBy is how many times the noise they scatter about one that is none: where a web leaves a roll there is left of it
	// what lies on the roll to leavesBy.
	raggedBy = 1.8
	// raggedAll is how many times the noise they scatter about one that none of them leaves, such as one laid over a hem and what juts out below it.
	raggedAll = 2.5
	// humped is how far, mm, what lies just before a roll that is seen so far may be off the face carried on to it: the roll of a bead is a good one.
	humped = 0.25
	// corneredOff is the same, of a corner.
	corneredOff = 0.05
	// raggedLeast is the noise, mm, below which hems that are not quite round scatter points by more than that.
	raggedLeast = 0.03
	// dipped is by how much, mm, points before a roll lie below the face where it is none of the face's, if they scatter by raggedDipped times
	// the noise: before one on which points lie as noise has them there may be a dent or a scratch.
	dipped, raggedDipped = 0.1, 1.2
	// Of a lesser dip and more scatter both say as much.
	dippedToo, raggedToo = dipped / 2, 1.4
)

// rag says that an edge is none of the face's where its points or those before it do not lie as they would then: a bead of sealant, say,
// that lies on the edge and has a roll of its own at its end, or a roll laid over a hem and a ledge below it. asStated: its form is
// the one that was taken for it.
func (s *sideState) rag(zone []zonePoint, shoulder, noise float64, asStated bool) {
	e := &s.edge
	switch {
	case !e.found:
	case e.kind != Round:
		e.ragged = !asStated && s.faceOff() > corneredOff // taken for a roll, and like a corner that its face does not run to
	case e.seen >= raggedFrom:
		scatter := e.misses / max(noise, raggedLeast)
		e.ragged = s.faceOff() > humped/2 || s.strewn(zone, shoulder, noise) || scatter > raggedAll || e.webbed && s.webRagged(scatter)
	}
	e.found = e.found && !e.ragged
}

// webRagged reports whether a roll that points leave, as those of a web do, is none: the others do not lie on it, or what lies
// before it dips under the face.
func (s *sideState) webRagged(scatter float64) bool {
	dip := 0.0
	if s.off > 0 {
		dip = -s.carry.height
	}
	return scatter > raggedBy || scatter > raggedDipped && dip > dipped || scatter > raggedToo && dip > dippedToo
}

// faceOff is half of what the points before a shoulder say the face carried on to it is out by there, mm, by height or by turn.
func (s *sideState) faceOff() float64 { return max(s.off, float64(s.tilt*(s.edge.s-s.face.y0))) }

// strewn reports whether more of the points before a shoulder lie off the face carried on to it than crumbs do.
func (s *sideState) strewn(zone []zonePoint, shoulder, noise float64) bool {
	a := astray{cut: max(leavesBy, 3.5*noise)}
	for i := range zone {
		if p := &zone[i]; p.y < shoulder {
			a.add(shoulder-p.y, p.h-s.face.at(p.x, p.y), p.nh)
		}
	}
	return a.many()
}

// left says that a roll of which too little was seen is none of the face's, where what lies before it leaves the face.
func (s *sideState) left() bool {
	e := &s.edge
	if e.kind != Round || !e.found || e.seen >= pastTelling {
		return false
	}
	if apart := s.faceOff(); apart > leftFace {
		e.apart, e.found = apart, false
	}
	return !e.found
}

// filled is which share of a side's face zone behind a shoulder the scan's faces cover, whatever points they have.
func (c *cutter) filled(w *worker, o *raw, k Side, shoulder float64) float64 {
	z, band := c.seam.Face, c.seam.Band
	w.runs = append(collectIn(c.patch.faces, &o.frame, band, math.Abs(shoulder)+z[1], cellSize, w.runs[:0]), c.patch.large)
	area := 0.0
	for t := range c.patch.each(w.runs) {
		x, y, h := o.frame.local(t.mid)
		if k == B {
			y = -y
		}
		out := math.Abs(t.n.Dot(o.frame.u)) // thinning leaves some turned round
		if back := shoulder - y; math.Abs(x) <= band && back >= z[0] && back <= z[1] && out > facing*t.long && math.Abs(h-o.lines[k].at(x, y)) <= outwardHeight {
			area += float64(out / 2)
		}
	}
	return area / float64(2*band*(z[1]-z[0]))
}

const (
	// leftFace is how far, mm, what lies before a roll may be off the face carried on to it:
	// what leaves the face by more, a web between two edges for instance, is not what the
	// roll belongs to. Half of what the points are off by counts.
	leftFace = 0.3
	// pastTelling is an arc that tells a roll for itself; before it crumbs may lie.
	pastTelling = 80 * math.Pi / 180
)

// sparseFacet is what part of the spacing of points, at one standard uncertainty, a chamfer's
// corners are out by where the facet is as wide: few rows of points then tell where they lie,
// and nearly all are near one. It falls with the square. Tried on chamfers of 0.5 to 2 mm.
const sparseFacet = 0.03

// tooCoarse says why an edge, of which a radius was typed or not, is too small for the spacing of points on it; "" where it is not.
func (s *sideState) tooCoarse(kn *known, k Side, typed bool) string {
	pitch := kn.pitch[k]
	if r := kn.radius[k]; kn.form[k] == Round && pitch > r {
		if !typed {
			return with(fmt.Sprintf("Points on side %s's edge lie %.1f mm apart, more than the radius of %.1f mm that was taken for it, none being typed.", sideName[k], pitch, r), doGiveRadius)
		}
		return fmt.Sprintf("Points on side %s's edge lie %.1f mm apart, more than its radius of %.1f mm.", sideName[k], pitch, r)
	}
	if e := &s.edge; e.found && e.kind == Round && e.r < pitch/2 && kn.form[k] == Round {
		return fmt.Sprintf("Points on side %s's edge lie %.1f mm apart, more than twice the radius of %.1f mm that a roll through them would have.", sideName[k], pitch, e.r)
	}
	wide := s.edge.facet()
	if kn.facet[k] > 0 && wide > 0 {
		wide = min(wide, kn.facet[k]) // one station's few points may lie on a wider one
	}
	if s.edge.found && wide > 0 && pitch > wide {
		return fmt.Sprintf("Points on side %s's edge lie %.1f mm apart, more than its chamfer of %.1f mm is wide.", sideName[k], pitch, wide)
	}
	return ""
}

// share enlarges what follows from scatter where the noise of neighbouring points is
// shared: many of them then say no more than few.
func (s *sideState) share(shared, noise float64) {
	// A noise that was stated may be that of the points before they were smoothed.
	more := func(sigma float64) float64 {
		v := max(sigma, noise)
		return max(float64(shared*sigma*sigma)/float64(v*v), 1)
	}
	by := more(s.face.sigma)
	for i := range s.face.cov {
		for k := range s.face.cov[i] {
			s.face.cov[i][k] *= by
		}
	}
	by = more(s.edge.sigma)
	for i := range s.edge.data {
		for k := range s.edge.data[i] {
			s.edge.data[i][k] *= by
		}
	}
}
