package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// flange is a sheet that runs on straight below a roll, in its side's frame at the station: y toward the gap, h outward.
//
// A nose is where the profile stops advancing, at most [mostBelow] under its shoulder besides the radius. Where a sheet
// ends its roll before that and leans toward the other panel, be it by its draft or since the faces lie at an angle,
// that is the flange's lower end or that depth, whichever comes first, and not on the roll. The flange is measured where it is
// seen; where it was seen to end before that depth it may end there or go on, so the nose is taken to be half way
// and what lies between counts as not known, its ends likelier than its middle: it ends there or goes on (arcsine distribution, JCGM 101:2008, 6.4.6).
//
// A chamfer's wall that leans toward the other panel is the same below the lower end of its facet, which stands for the radius.
type flange struct {
	is       bool
	doubted  bool          // points lie there as a flange's do, and others say that it may be none
	at, down Point2        // mm, a place on it; unit, down along it
	seen     float64       // mm from at, down to the last of it that was seen
	cov      [2][2]float64 // of the place square to it, mm², and of its direction
}

const (
	// flangeLean is how far a flange leans from square to its own face at most, for it to be measured: what leans more toward the
	// other panel may be a web that sags into the gap. A press drafts by 5° or less (common practice, no source); the rest is room for
	// a roll that hides the shoulder's true direction.
	flangeLean = 12 * math.Pi / 180
	// flangeFacing is how far the normals of its points lie from the face's own direction at most.
	flangeFacing = 40 * math.Pi / 180
	// flangeDeeper is how far below the deepest nose, mm, points still say that a flange goes on.
	flangeDeeper = 2.0
	// flangeBent is how far, mm, or in standard deviations of their mean, a third of a flange's points may be off its line.
	flangeBent, flangeChance = 0.05, 3.5
	flangeRounds             = 10
	// flangeLong is from its highest point to its lowest, mm, at least, and flangeHeld how well, radians, one standard uncertainty, its
	// points are to tell its direction.
	flangeLong, flangeHeld = 0.5, 0.04
	// flangeVoid is how much of the roll before it may be unseen, radians: a flange goes on from a roll, a ledge or a web from anywhere.
	flangeVoid = 20 * math.Pi / 180
)

// flange looks for a straight flange below a side's roll, or for the wall below its chamfer.
func (c *cutter) flange(w *worker, o *raw, k Side, kn *known) (l flange) {
	ss := &o.side[k]
	e, f := &ss.edge, &ss.face
	if !e.found || e.kind == Sharp || math.Pi/2-flangeLean-e.seen > flangeVoid {
		return l
	}
	const behind, before = 2.0, 6.0 // mm from the nose
	w.zone = carry(w.side(k), &o.curves[k], c.seam.Band, e.s-behind, e.s+e.r+before, w.zone)
	deepest := e.drop() + mostBelow
	of := among{lo: math.Pi/2 - flangeFacing, hi: math.Pi/2 + flangeFacing, top: -e.drop(), bottom: -deepest - flangeDeeper, aside: e.r + before}
	on := of.pick(w.zone, f, e.s)
	if len(on) < wallPoints {
		return l
	}
	line, ok := seedFlange(on, e, deepest, kn.noise)
	if !ok || !line.fit(on, deepest, kn) || !line.tells(on, e, deepest, c.seam.Band, kn.noise) || math.Pi/2-line.lean-e.seen > flangeVoid {
		return l
	}
	line.share(kn)
	m := f.slope(e.s)
	q := math.Sqrt(1 + float64(m*m))
	axes := func(v, w float64) Point2 { return Point2{float64(v-float64(m*w)) / q, float64(float64(m*v)+w) / q} }
	at := axes(line.v, line.w)
	l = flange{is: true, at: Point2{e.s + at.S, f.at0(e.s) + at.H}, down: axes(line.sin, -line.cos), cov: line.cov}
	for i := range on {
		if math.Abs(line.off(&on[i])) <= line.cut {
			l.seen = max(l.seen, (line.w-on[i].w)/line.cos)
		}
	}
	if line.denied(w.zone, f, e, l.seen, deepest, &of) {
		l.is, l.doubted = false, true
	}
	return l
}

const (
	// flangeNext is within how many mm of its end points lie that go on from a flange, and flangeMany how many they, or those of a roll that
	// turns on behind it, are.
	flangeNext, flangeMany = 1.2, 3
)

// denied reports whether points say that a line, seen so many mm down, is no flange but the beginning of a web, which is steep where it leaves a
// roll near its nose: some go on from its end toward the other panel, or the roll turns on behind it, where nothing spans the gap.
func (l *flangeLine) denied(zone []zonePoint, f *face, e *edge, end, deepest float64, of *among) bool {
	all := among{lo: -math.Pi / 2, hi: math.Pi, top: of.top, bottom: of.bottom, aside: of.aside}
	short := l.w-float64(end*l.cos) > -deepest
	next, behind := 0, 0
	for _, p := range all.pick(zone, f, e.s) {
		off, down := l.off(&p), l.down(&p)
		round := math.Sqrt(float64(p.v*p.v) + float64((p.w+e.r)*(p.w+e.r)))
		switch {
		case off > l.cut && off < flangeNext && math.Abs(down-end) < flangeNext && short:
			next++
		case e.kind == Round && off < -max(l.cut, leavesBy) && math.Abs(round-e.r) < max(l.cut, leavesBy):
			behind++
		}
	}
	return next >= flangeMany || behind >= flangeMany
}

// flangeLine is a flange in the axes of the face at its shoulder.
type flangeLine struct {
	v, w     float64 // mm, a place on it
	lean     float64 // radians from square to the face toward the other panel
	sin, cos float64 // of lean
	cov      [2][2]float64
	along    course
	sigma    float64 // mm, scatter of its points
	cut      float64 // mm, how far off it points are that may be its own
}

func (l *flangeLine) leanTo(lean float64) {
	l.lean = lean
	l.sin, l.cos = geom.Sincos(lean)
}

// off is how far a point lies before the line, mm.
func (l *flangeLine) off(p *flankPoint) float64 {
	return float64((p.v-l.v-l.along.at(p.x))*l.cos) + float64((p.w-l.w)*l.sin)
}

// down is how far a point lies down along the line, mm.
func (l *flangeLine) down(p *flankPoint) float64 {
	return float64((p.v-l.v)*l.sin) - float64((p.w-l.w)*l.cos)
}

// drop is how far below its shoulder, mm, an edge has a flange begin: a roll by its radius, a chamfer by its facet.
func (e *edge) drop() float64 {
	if e.kind == Chamfer {
		return float64(e.r * e.fall)
	}
	return e.r
}

// seedFlange returns the one of the lines tangent to a roll, or through the lower end of a facet, on which most points lie.
func seedFlange(on []flankPoint, e *edge, deepest, noise float64) (best flangeLine, ok bool) {
	const step = math.Pi / 180
	cut := max(0.15, 2.5*noise)
	most := 0.0
	for lean := -flangeLean; lean <= flangeLean; lean += step {
		l := flangeLine{w: -e.drop() - float64(mostBelow/2), cut: cut}
		l.leanTo(lean)
		l.v = float64(e.r-float64(l.sin*(l.w+e.r))) / l.cos
		if e.kind == Chamfer {
			l.v = e.r + float64(mostBelow/2*l.sin)/l.cos
		}
		score := 0.0
		for i := range on {
			if on[i].w < -deepest {
				continue
			}
			if d := l.off(&on[i]) / cut; d > -1 && d < 1 {
				score += 1 - float64(d*d)
			}
		}
		if score > most {
			best, most, ok = l, score, true
		}
	}
	return best, ok
}

// fit improves the line by least squares with redescending weights.
func (l *flangeLine) fit(on []flankPoint, deepest float64, kn *known) bool {
	const near = 0.6 // mm
	abs := make([]float64, 0, len(on))
	scale := max(firstCut, kn.noise)
	for range flangeRounds {
		q := normalEq{n: 4}
		abs = abs[:0]
		n := 0
		sin, cos := l.sin, l.cos
		for i := range on {
			p := &on[i]
			d := l.off(p)
			if p.w < -deepest || math.Abs(d) > near {
				continue
			}
			abs = append(abs, math.Abs(d))
			weight := tukey(d, scale)
			if weight == 0 {
				continue
			}
			n++
			t := p.x / alongScale
			q.add(&row{1, l.down(p), float64(t * cos), float64(t * t * cos)}, d, weight)
		}
		if n < wallPoints {
			return false
		}
		last := l.along
		courseTraced.add(&q, 2, scale, &last)
		inv, ok := q.inverse()
		if !ok {
			return false
		}
		b := q.apply(&inv)
		l.v += float64(b[0] * cos)
		l.w += float64(b[0] * sin)
		l.leanTo(l.lean + geom.Atan(b[1]))
		l.along = course{l.along.turn + b[2], l.along.bend + b[3]}
		if math.Abs(l.lean) > 2*flangeLean {
			return false
		}
		l.sigma = max(robustSigma(abs, 2), kn.noise, leastNoise)
		l.cut = 3.5 * l.sigma
		v := float64(l.sigma * l.sigma)
		l.cov = [2][2]float64{{float64(v * inv[0][0]), float64(v * inv[0][1])}, {float64(v * inv[1][0]), float64(v * inv[1][1])}}
		scale = min(l.sigma, scale)
	}
	return true
}

// tells reports whether the line is a flange that goes on from a roll, or from a chamfer's facet, and not what else may lie there.
func (l *flangeLine) tells(on []flankPoint, e *edge, deepest, band, noise float64) bool {
	const thirds = 3
	if math.Abs(l.lean) > flangeLean || l.sigma > max(4*noise, 0.12) {
		return false
	}
	// The roll's centre lies at 0, -r.
	at := Point2{S: 0, H: -e.r}
	reach := e.r
	if e.kind == Chamfer {
		at, reach = Point2{S: e.r, H: -e.drop()}, 0
	}
	if math.Abs(float64((l.v-at.S)*l.cos)+float64((l.w-at.H)*l.sin)-reach) > wallOff {
		return false
	}
	top, bottom := math.Inf(-1), math.Inf(1)
	var slabs [slabCount]bool
	n := 0
	for i := range on {
		p := &on[i]
		if p.w < -deepest || math.Abs(l.off(p)) > l.cut {
			continue
		}
		n++
		top, bottom = max(top, p.w), min(bottom, p.w)
		slabs[min(max(int((p.x+band)/(2*band)*slabCount), 0), slabCount-1)] = true
	}
	empty := 0
	for _, s := range slabs {
		if !s {
			empty++
		}
	}
	if n < wallPoints || empty > 1 || top-bottom < flangeLong || l.cov[1][1] > flangeHeld*flangeHeld {
		return false
	}
	var sum, count [thirds]float64
	for i := range on {
		p := &on[i]
		if d := l.off(p); p.w >= -deepest && math.Abs(d) <= max(l.cut, 2*flangeBent) {
			i := min(int((top-p.w)/(top-bottom)*thirds), thirds-1)
			if i >= 0 {
				sum[i] += d
				count[i]++
			}
		}
	}
	for i, n := range count {
		if n > 0 && math.Abs(sum[i]/n) > max(flangeBent, flangeChance*l.sigma/math.Sqrt(n)) {
			return false
		}
	}
	return true
}

// share enlarges what follows from scatter where the noise of neighbouring points is shared.
func (l *flangeLine) share(kn *known) {
	by := max(kn.shared, kn.thinned, 1)
	for i := range l.cov {
		for k := range l.cov[i] {
			l.cov[i][k] *= by
		}
	}
}

// laid is a flange in the station's plane, below an edge.
type laid struct {
	is, on   bool // on: the nose lies on it
	doubted  bool // it may be none
	at, down Point2
	top      float64 // mm from at down it: where it leaves the roll
	end      float64 // the same, where its nose is taken to be
	room     float64 // mm along it, either way, where the nose may be besides
}

// lay brings a flange into the station's plane.
func (o *outline) lay(k Side, f *flange) {
	if !f.is && !f.doubted {
		return
	}
	o.flange = laid{is: f.is, doubted: f.doubted, at: f.at, down: f.down}
	l := &o.flange
	if k == B {
		l.at.S, l.down.S = -l.at.S, -l.down.S
	}
	from, drop := o.centre, o.r
	if o.kind == Chamfer {
		from, drop = o.nose, dot(o.normal, sub(o.shoulder, o.nose))
	}
	l.top = dot(l.down, sub(from, l.at))
	deepest := (dot(o.normal, sub(l.at, o.shoulder)) + drop + mostBelow) / -dot(o.normal, l.down)
	l.end = deepest
	if f.seen < deepest {
		l.end, l.room = (f.seen+deepest)/2, (deepest-f.seen)/2
	}
}

// leads reports whether a flange leads on toward the other panel along t, so that the nose lies on it.
func (l *laid) leads(t Point2) bool { return l.is && dot(l.down, t) > 0 }

// flangeBudget is what is not known of a nose along dir for a flange, and whether the nose lies on it.
func (o *outline) flangeBudget(k Side, f *flange, dir Point2) (lines []BudgetLine, on, seen bool) {
	l := &o.flange
	if !l.is {
		return nil, false, false
	}
	lean := dot(l.down, dir)
	u := math.Sqrt(max(f.cov[1][1], 0))
	if lean <= 0 {
		// It may lean the other way after all.
		if more := float64((lean + float64(2*u)) * (l.end - l.top)); more > 0 {
			lines = append(lines, BudgetLine{scatterOfFlange[k], more / 2})
		}
		return lines, false, false
	}
	v := f.cov[0][0] + float64(2*l.end*f.cov[0][1]) + float64(l.end*l.end*f.cov[1][1])
	lines = append(lines, BudgetLine{scatterOfFlange[k], math.Sqrt(max(v, 0))})
	return lines, true, l.room == 0
}

// flangesEnd is what is not known of a gap for where the flanges end, along t, where they were not seen to be as deep as noses lie at most:
// what one of two does the other does, too, so that both may be off by all there is. Where it is in doubt whether there is one, the gap ends
// at the roll and may be less by all that it would lead on, once in four times.
func flangesEnd(edges *[2]outline, m Side) (lines []BudgetLine) {
	t := edges[m].tangent
	sum := 0.0
	for k := A; k <= B; k++ {
		dir := t
		if k != m {
			dir = Point2{-t.S, -t.H}
		}
		switch l := &edges[k].flange; {
		case l.on:
			sum += math.Abs(l.room * dot(l.down, t))
		case l.doubted && dot(l.down, dir) > 0:
			by := dot(dir, sub(along(l.at, l.end+l.room, l.down), edges[k].noseAlong(dir)))
			sum += max(by, 0) / math.Sqrt2 // half of it, with the root below: what is there once in four times scatters by that about what is not
		}
	}
	if sum > 0 {
		lines = append(lines, BudgetLine{"flanges carried on", sum / math.Sqrt2})
	}
	return lines
}
