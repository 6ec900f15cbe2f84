package gapflush

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

// evidence is what a station's points say of an edge when nothing is taken for
// granted about it: its form, its radius, and whether its roll lies under the face.
type evidence struct {
	vote  EdgeKind
	voted bool  // the points tell one form from the others
	sure  bool  // a roll that would be nearest was not left out of that for how little of it was seen
	round shown // mm, radius of the roll, freed of what was assumed
	sunk  shown // mm, with what was assumed of the radius
	apart shown // mm, without
	quiet shown // mm, apart by what the points scatter, even if the noise assumed is more
	// The radius of a roll that may lie under the face.
	smoothedRound shown
	assumed       float64 // mm, the radius assumed
	pitch         float64 // mm, spacing of points on the roll
	corr          correlation
	grazed        grazed
	scattered     scattered
}

// shown is a figure with its variance, if there is one.
type shown struct {
	v, variance float64
	ok          bool
}

const (
	freeRadius   = 5.0                 // mm, a standard uncertainty that leaves a radius to the points
	freeRounds   = 8                   //
	tellingArc   = 45 * math.Pi / 180  // less of a roll says nothing of its radius (trade.md 1.2: 7.3 times the noise)
	formFirst    = 15 * math.Pi / 180  // points lean more than that where they belong to an edge
	formLast     = 100 * math.Pi / 180 // and less than that before a hem's return
	formReach    = 0.6                 // mm from every form: no point of the edge
	formPoints   = 8
	clearlyMore  = 2.0                // times the mean squared distance
	strayed      = 0.45               // times the noise that the means of a chamfer's thirds lie off it: 0.34 at most on those that were tried, 0.5 on rolls with a ledge
	cutByMesh    = 50                 // of the points' distance is what a mesh with rounded corners adds
	sinkingArc   = 75 * math.Pi / 180 // on less a circle left free of the face is not held
	smoothedFrom = 25 * math.Pi / 180
)

// weigh fits an edge as each of the forms and says which its points tell.
func (c *cutter) weigh(w *worker, o *raw, k Side, s float64, kn *known, band float64) (v evidence) {
	ss := &o.side[k]
	f := &ss.face
	v.assumed = kn.radius[k]
	if f.bent == nil {
		return v
	}
	v.corr.gather(w.zone, f.bent, s-c.seam.Face[1], s-c.seam.Face[0], o.spread)
	if kn.curvature[k] == 0 {
		// No reference told it: the face is carried on to the edge as its own zone is bent.
		f = f.bent
	}
	g := &w.roll
	task := rollTask{face: f, s: o.curves[k].s0, r: kn.radius[k], ur: kn.radiusU[k], noise: kn.noise, pitch: o.spread, band: band, beyond: o.otherSide(k), uneven: kn.uneven[k]}
	if ss.edge.kind == Round && ss.edge.found {
		task.s, task.before = s, &ss.edge
	} else {
		task.ur = freeRadius // what was assumed did not hold
	}
	rolled := g.fitted(w.zone, &task)
	if rolled.n >= minOnArc {
		g.ur = freeRadius
		g.fit(&rolled, freeRounds)
	}
	noise := max(kn.noise, f.sigma)
	arc := 0.0 // that a fit with what was assumed saw; 0: as the free fit sees it
	if ss.edge.kind == Round && ss.edge.found {
		// Freed, some of many short arcs seem longer, and of a smaller radius.
		arc = ss.edge.seen
	}
	if rolled.webbed {
		if wider, ok := g.wider(w.zone, task, &rolled, noise); ok {
			rolled, arc = wider, wider.seen
		} else {
			rolled = g.fitted(w.zone, &task)
			if rolled.n >= minOnArc {
				g.ur = freeRadius
				g.fit(&rolled, freeRounds)
			}
		}
	}
	if rolled.n >= formPoints {
		g.arcs(&rolled)
		g.pattern(&rolled)
		rolled.judge(noise, o.spread, 0)
		if arc == 0 {
			arc = rolled.seen
		}
		rolled.sparse = inFewRows(&rolled, o.spread)
		if rolled.found && arc >= tellingArc && !rolled.sparse && !g.hollow(&rolled).is() {
			v.pitch = rolled.spacing(band)
			v.round = shown{rolled.r, rolled.data[1][1], true}
			v.scattered = g.scatter(&rolled)
			if arc >= sinkingArc {
				v.sunk, v.smoothedRound = g.sunkBy(&rolled, kn.radius[k], kn.radiusU[k])
				v.apart, _ = g.sunkBy(&rolled, kn.radius[k], freeRadius)
				by := max(rolled.misses, leastNoise) / rolled.sigma
				v.quiet = shown{v.apart.v, float64(by * by * v.apart.variance), v.apart.ok}
			}
		}
	}
	var forms [3]edge
	forms[Round] = rolled
	forms[Round].found = rolled.n >= minOnArc
	for _, form := range [...]EdgeKind{Chamfer, Sharp} {
		if ss.edge.kind == form {
			forms[form] = ss.edge
		} else {
			forms[form] = fitStraight(w.zone, f, rolled.s, kn.noise, form)
		}
	}
	for _, form := range [...]EdgeKind{Sharp, Chamfer} {
		if forms[form].found {
			forms[Round].wall = forms[form].wall // a flange runs on from a roll as a wall does from a corner
		}
	}
	v.vote, v.voted, v.sure = g.tell(&forms, kn.form[k], noise, o.spread)
	return v
}

const (
	// clearlyWider is how many times the points of a roll that a web leaves another has to hold.
	clearlyWider = 1.3
	// asNoise is how many times the noise the points of another roll may scatter, so that a web is
	// none: one that is straight and tangent to a roll leaves a wider one by much more over widerArc.
	asNoise  = 1.25
	widerArc = 75 * math.Pi / 180
)

// wider returns a roll of another radius than was assumed that holds, besides the points on one which a
// web seems to leave, those of the web too, to near its nose and as closely as noise allows: then
// there is no web, and the radius is not what was assumed.
func (g *rollFit) wider(pts []zonePoint, task rollTask, webbed *edge, noise float64) (best edge, ok bool) {
	task.before, task.ur, task.held = nil, freeRadius, false
	for _, r := range firstRadii {
		if r <= webbed.r {
			continue
		}
		task.r = r
		e := g.fitted(pts, &task)
		if e.n < formPoints || float64(e.n) < clearlyWider*float64(webbed.n) || e.webbed || e.sigma > asNoise*noise || e.n <= best.n {
			continue
		}
		g.arcs(&e)
		if e.judge(noise, task.pitch, 0); e.found && e.seen >= widerArc {
			best = e
		}
	}
	if best.n == 0 {
		return best, false
	}
	task.r = best.r
	e := g.fitted(pts, &task)
	if e.n < formPoints {
		return best, false
	}
	g.arcs(&e)
	e.judge(noise, task.pitch, 0)
	return e, e.found
}

// sunk returns by how much a roll lies under the one that is tangent to the face,
// and the radius it had before it sank, r0 being assumed to ur, from its points beyond smoothedFrom: a
// circle left free of the face.
func (g *rollFit) sunkBy(e *edge, r0, ur float64) (sunk, round shown) {
	o := rollAt(g.face, e.s, e.r)
	q := normalEq{n: 4}
	n := 0
	for i := range g.pts {
		p := &g.pts[i]
		at, ok := g.counts(&o, p)
		if !ok || at.phi() < smoothedFrom {
			continue
		}
		res := at.d - o.r
		more := g.uneven.of(&at)
		weight := tukey(res/more, e.sigma) / float64(more*more)
		if weight == 0 {
			continue
		}
		ds, dr, _ := o.slopes(&at)
		q.add(&row{ds, dr, 1, -float64(at.ux * p.x)}, -res, weight)
		n++
	}
	held := e.sigma * e.sigma / (ur * ur)
	q.a[1][1] += held
	q.b[1] += float64(held * (r0 - e.r))
	q.a[3][3] += e.sigma * e.sigma / (tracedTurn * tracedTurn)
	inv, ok := q.inverse()
	if !ok || n < formPoints {
		return sunk, round
	}
	x, v := q.apply(&inv), e.sigma*e.sigma
	return shown{x[2], v * inv[2][2], true}, shown{e.r + x[1], v * inv[1][1], true}
}

// tell returns the form that an edge's points are nearest to, if they clearly are:
// the stated one where none is nearer. Where a third of the points lies on no form,
// as on what a fit cut off for its depth, or where they lie in few rows, they tell none.
func (g *rollFit) tell(forms *[3]edge, stated EdgeKind, noise, pitch float64) (vote EdgeKind, voted, sure bool) {
	cut := 4 * max(noise, 0.02)
	var sum [3]float64
	n, astray := 0, 0
	down := g.other[:0]
	for i := range g.pts {
		p := &g.pts[i]
		m := g.face.slope(forms[Round].s)
		lean := geom.Atan2(p.ny+float64(m*p.nh), p.nh-float64(m*p.ny))
		if lean < formFirst || lean > formLast {
			continue
		}
		var d [3]float64
		least := math.Inf(1)
		for k := range forms {
			if d[k] = math.Inf(1); forms[k].found {
				d[k] = g.off(&forms[k], p)
			}
			least = min(least, d[k])
		}
		if least > formReach {
			astray++
			continue
		}
		n++
		down = append(down, (p.y-p.h)/math.Sqrt2)
		for k := range d {
			d[k] = min(d[k], cut)
			sum[k] += float64(d[k] * d[k])
		}
	}
	g.other = down
	slices.Sort(down)
	if n < formPoints || 2*astray > n || fewRows(down, pitch, down[0]) {
		return stated, false, false
	}
	best := nearest(forms, &sum, stated, n, noise)
	// A roll that could not be fitted is not one that the points lie farther off than a chamfer; on a corner it shrinks to nothing.
	sure = stated != Round || best != Chamfer || forms[Round].found
	if best == Round && stated != Round && forms[Round].seen < pastNose {
		// A facet and its wall lie on a roll about as well as a roll does to its nose: only one seen past that tells
		// itself from them, and where this one is nearest all the same little is told.
		roll := sum[Round]
		sum[Round] = math.Inf(1)
		best = nearest(forms, &sum, stated, n, noise)
		sure = sure && sum[best] < roll
	}
	if best != stated && stated == Round && (forms[best].strewn(noise, pitch) || forms[best].recedes() || g.leavesFace(&forms[best], noise) || g.hollow(&forms[best]).is()) {
		return stated, true, true // a roll with something that lies on it or juts out below it
	}
	return best, forms[best].found, sure
}

// strewn reports whether points lie off a chamfer's facet or wall where noise alone would not have their means.
func (e *edge) strewn(noise, pitch float64) bool {
	mesh := pitch / cutByMesh
	return e.kind == Chamfer && e.strays*e.strays > float64(strayed*strayed*noise*noise)+float64(mesh*mesh)
}

// recedesBy is how far the wall below a chamfer may lean back under its panel, radians, where nobody stated one: what draws back more is a roll, of
// which a bead of sealant hides the upper part. Twice what a press undercuts (common practice, no source).
const recedesBy = 20 * math.Pi / 180

// recedes reports whether what was taken for a chamfer's wall leans back under the panel as none does.
func (e *edge) recedes() bool { return e.kind == Chamfer && e.wall > geom.Tan(recedesBy) }

// leavesFace reports whether what lies before a corner, or before and on a chamfer's facet, where that should be, lies off it.
func (g *rollFit) leavesFace(e *edge, noise float64) bool {
	o := rollAt(g.face, e.s, 0)
	a := astray{cut: max(leavesBy, 3.5*noise)}
	for i := range g.pts {
		p := &g.pts[i]
		switch at := o.place(p.y, p.h); {
		case at.v < 0:
			a.add(-at.v, at.w, p.nh)
		case at.v < e.facet() && at.w > -deepest:
			a.add(offFrom, g.off(e, p), p.nh)
		}
	}
	return a.many()
}

// nearest returns the form that n points are clearly nearest to by the sums of the squares of their distances, mm²: the stated one
// where none is.
func nearest(forms *[3]edge, sum *[3]float64, stated EdgeKind, n int, noise float64) EdgeKind {
	best := stated
	for k := range forms {
		if forms[k].found && sum[k] < sum[best]/clearlyMore && sum[best] > clearlyMore*float64(n)*noise*noise {
			best = EdgeKind(k)
		}
	}
	return best
}

// off returns a point's distance from an edge of a form, face and wall included.
func (g *rollFit) off(e *edge, p *rollPoint) float64 {
	o := rollAt(g.face, e.s, 0)
	at := o.place(p.y, p.h)
	switch e.kind {
	case Round:
		if at.v <= 0 {
			return math.Abs(at.w)
		}
		y := at.w + e.r
		d := math.Abs(math.Sqrt(float64(at.v*at.v)+float64(y*y)) - e.r)
		// The wall is tangent to the roll, where it has turned by as much as the wall leans.
		q := math.Sqrt(1 + float64(e.wall*e.wall))
		if y <= -e.r*e.wall/q {
			d = min(d, math.Abs(at.v-float64(e.wall*y)-float64(e.r*q))/q)
		}
		return d
	case Chamfer:
		end := Point2{e.r, -float64(e.r * e.fall)}
		d, _ := toSegment(Point2{at.v, at.w}, Point2{}, end)
		if at.v <= 0 {
			d = min(d, math.Abs(at.w))
		}
		if at.w <= end.H {
			d = min(d, math.Abs(at.v-end.S-float64(e.wall*(at.w-end.H)))/math.Sqrt(1+float64(e.wall*e.wall)))
		}
		return d
	}
	d := length(Point2{at.v, at.w})
	if at.v <= 0 {
		d = min(d, math.Abs(at.w))
	}
	if at.w <= 0 {
		d = min(d, math.Abs(at.v-float64(e.wall*at.w))/math.Sqrt(1+float64(e.wall*e.wall)))
	}
	return d
}
