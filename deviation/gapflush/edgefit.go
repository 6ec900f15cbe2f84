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
	wall   float64 // slope of the wall below a corner, mm along the face a mm up
	found  bool
	webbed bool    // points left the roll and do not count
	form   float64 // mm, standard uncertainty of s for what the form leaves out
	misfit float64 // mm, the radius found where it cannot be the edge's, else 0
	apart  float64 // mm, by which what lies before it leaves the face, where it is none of the face's
	sparse bool    // its points lie in so few rows that they do not tell it from other curves
	solid  bool    // points lie where the roll would be solid, so that it is none
	leans  bool    // its last points face another way than a roll does there
	strays float64 // mm, of a chamfer: root mean square of what the means of thirds of its facet and wall lie off them
	ragged bool    // points left it, and those that did not lie too badly on it to be a roll's
	ledge  float64 // mm before it, where the face steps down and runs on lower; 0: nowhere
	short  bool    // of a roll whose radius is not known too little is left before what may be a web
	u      float64 // mm, standard uncertainty of s where no edge was found
	n      int
	middle float64       // mm along the seam, the mean of the points on the roll
	seen   float64       // radians of arc seen from the shoulder on
	phis   []float64     // of the points on the roll
	data   [2][2]float64 // covariance of s, r from the points
	prior  [2]float64    // change of s, r with the radius assumed, times its uncertainty
	toFace [2][3]float64 // change of s, r with h0, m, c of the face
	sigma  float64       // mm, scatter of the points
	misses float64       // mm, the same where noise is more
	cut    float64       // mm, the scale by which they were weighted
	clear  bool          // their distances were taken without the course
	along  course
}

const (
	firstArc = 12 * math.Pi / 180  // a roll's first points do not tell it from the face
	lastArc  = 105 * math.Pi / 180 // beyond, a hem is no longer round
	minArc   = 25 * math.Pi / 180  // definitions: less is unseen
	minOnArc = 4
)

// rollTask is what an edge's roll is fitted from.
type rollTask struct {
	face        *face
	s           float64 // mm, where the edge is to be looked for
	before      *edge   // found there for nearly the same face; nil: s is the trace's, in the middle of the band
	r, ur       float64 // mm, the radius assumed and its standard uncertainty
	noise       float64 // mm
	sunk        float64 // mm, by which the points lie under the roll
	held        bool    // the points are not believed about the radius
	pitch, band float64 // mm, spacing of points beside the gap; half length along the seam
	beyond      beyond  // what is the other panel's
	uneven      *uneven // how the points scatter
}

// beyond is the other panel's skin as this side sees it: where it lies, and where, mm
// toward it, it begins. Across a narrow gap its points lie where a web would.
type beyond struct {
	seen bool
	l    line // of the other side's own y
	from float64
}

// otherSide returns what a side sees of the other's skin.
func (o *raw) otherSide(k Side) beyond { return beyond{true, o.lines[1-k], -o.ends[1-k]} }

// holds reports whether a point is one of it.
func (b *beyond) holds(p *zonePoint) bool {
	return b.seen && p.y >= b.from && math.Abs(p.h-b.l.at(p.x, -p.y)) <= lineReach
}

// wellKnown is the standard uncertainty, mm, up to which a radius may be held to
// find a web: one that is 0.2 mm off leaves a roll by less than 0.1 mm within 90°.
const wellKnown = 0.25

// holding is how much more firmly than it is known a radius is held that the points
// would get wrong.
const holding = 10.0

// fitRound fits the roll of an edge. A web that leaves the roll toward the gap is
// no part of it: first the radius is held to find where points leave, then they
// are fitted without what lies beyond.
func (g *rollFit) fitRound(pts []zonePoint, task rollTask) edge {
	e := g.fitted(pts, &task)
	if e.n < minOnArc {
		return e
	}
	if e.phis == nil {
		g.arcs(&e)
	}
	g.pattern(&e)
	from := 0.0
	if g.sunk > 0 {
		from = smoothedFrom
	}
	e.judge(task.noise, task.pitch, from)
	if e.found && e.webbed && task.ur > wellKnown && e.seen < tellingArc && float64(g.left()) > insideShare*float64(e.n) {
		e.short, e.found = true, false
	}
	if math.Abs(e.r-task.r) > 3*task.ur {
		// A web bends the edge, or the radius given is not this edge's.
		e.misfit, e.found = e.r, false
	}
	return e
}

// fitted fits the roll, and leaves it to others to say how much of it was seen.
func (g *rollFit) fitted(pts []zonePoint, task *rollTask) edge {
	g.set(pts, task)
	e := edge{kind: Round, s: task.s, r: task.r}
	if task.before != nil {
		// What left a roll of another radius says nothing of where this one is.
		if !task.before.webbed || math.Abs(task.before.r-task.r) <= 3*task.ur {
			e.r = task.before.r
		}
		if !task.before.webbed {
			g.sigma, g.clear, g.along = task.before.cut, task.before.clear, task.before.along
		}
	} else {
		e.s = g.start(task.s)
	}
	// What left no roll will not leave it for a shoulder some hundredths off.
	if task.ur <= wellKnown && (task.before == nil || task.before.webbed) {
		g.ur = task.ur / 4
		if g.fit(&e, heldRounds); e.n >= minOnArc {
			e.webbed = g.leaves(&e)
		}
		if e.webbed {
			g.sigma = 0
		}
		g.ur = task.ur
	}
	if task.held {
		g.ur = task.ur / holding
	}
	const stages = 4
	for stage := 1; ; stage++ {
		g.fit(&e, fitRounds)
		if e.n < minOnArc {
			return e
		}
		if stage == stages {
			g.arcs(&e) // what still leaves was of this fit
		}
		left := g.leaves(&e)
		e.webbed = e.webbed || left
		if left {
			g.sigma = 0
		}
		if stage == stages || !g.lopsided(&e) && !left {
			break
		}
	}
	if task.held {
		for i := range e.prior {
			e.prior[i] *= holding
		}
	}
	if g.clears(&e) {
		if g.fit(&e, fitRounds); e.n < minOnArc {
			return e
		}
		e.phis = nil
	}
	e.cut, e.clear, e.along = g.sigma, g.clear, g.along
	return e
}

// judge says how much of the roll was seen, walking from where its points count while no
// stretch is without a point that is longer than 40° or, on a coarse scan whose
// rows lie in step, than the pitch of its points on the roll; and whether it is
// a roll at all.
func (e *edge) judge(noise, pitch, from float64) {
	void := max(40*math.Pi/180, 1.15*min(pitch/e.r, 1))
	slices.Sort(e.phis)
	last := from
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

// facet is how wide a chamfer's facet is, mm; 0 for other edges.
func (e *edge) facet() float64 {
	if e.kind != Chamfer {
		return 0
	}
	return e.r * math.Sqrt(1+float64(e.fall*e.fall))
}
