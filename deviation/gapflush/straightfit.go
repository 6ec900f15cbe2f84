package gapflush

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

// cornerCourse is the standard uncertainty, mm, of where a corner runs in the middle
// of the band for its course along it, which a trace takes for a roll's to 0.05 mm a
// slab: over seven slabs 0.007 mm, and as much for the choice of a wall's points.
const cornerCourse = 0.01

// smallFillet is the same where no wall was seen below half a millimetre: a fillet of
// 0.4 mm, too small to be told from a corner by points 0.6 mm apart, then moves the
// nose by 0.03 mm.
const smallFillet = 0.03

const (
	flankDeep  = 3.0 // mm below the face; what lies deeper may be a flange or another panel
	flankAside = 4.0 // mm from the corner
)

// steepest is how far a chamfer's facet leans from the face at most: what leans more is a wall. Down a
// wall of 3 mm that leans as much a nose advances by 1 mm; below a corner nothing may advance more.
const steepest = 72 * math.Pi / 180

// flank is the line of a wall or a facet in the axes of the face at s: v = a + b w, v mm
// along the face toward the gap, w mm up from it.
type flank struct {
	a, b  float64
	along course
	inv   [maxUnknowns]row // of the normal equations of a and b
	sigma float64          // mm
}

// among says which points a flank is fitted from: those whose normals lean from lo to hi, in
// radians, from the face, that lie from top down to bottom, mm above it, and up to aside along
// it from the corner.
type among struct{ lo, hi, top, bottom, aside float64 }

// flankPoint is a point beside a face, in its axes at s: v mm along it toward the gap, w mm up from it.
type flankPoint struct{ x, v, w float64 }

// pick returns such points.
func (of *among) pick(pts []zonePoint, f *face, s float64) (on []flankPoint) {
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	for i := range pts {
		p := &pts[i]
		w := (p.h - f.at(p.x, p.y)) / q
		if w > of.top || w < of.bottom {
			continue
		}
		v := float64((p.y-s)*q) + float64(m*w)
		if math.Abs(v) > of.aside {
			continue
		}
		if tilt := geom.Atan2(p.ny+float64(m*p.nh), p.nh-float64(m*p.ny)); tilt >= of.lo && tilt <= of.hi {
			on = append(on, flankPoint{p.x, v, w})
		}
	}
	return on
}

// fitFlank fits such points below s. n is how many they are.
func fitFlank(pts []zonePoint, f *face, s, noise float64, of among) (l flank, n int, ok bool) {
	cut := 0.6
	held := courseFree
	on := of.pick(pts, f, s)
	abs := make([]float64, 0, len(on))
	for round := 0; round < 8; round++ {
		eq := normalEq{n: 4}
		abs = abs[:0]
		n = 0
		for i := range on {
			p := &on[i]
			weight := 1.0
			if round > 0 {
				r := p.v - l.a - float64(l.b*p.w) - l.along.at(p.x)
				abs = append(abs, math.Abs(r))
				weight = tukey(r, cut)
			}
			if weight > 0 {
				t := p.x / alongScale
				eq.add(&row{1, p.w, t, t * t}, p.v, weight)
				n++
			}
		}
		eq.a[1][1] += 0.05 // holds the slope where all points are at one depth
		l.sigma = max(noise, cut)
		held.add(&eq, 2, l.sigma, nil)
		inv, good := eq.inverse()
		if !good || n < minOnArc {
			return l, n, false
		}
		b := eq.apply(&inv)
		cut = max(noise, robustSigma(abs, 2), 0.01)
		l = flank{b[0], b[1], course{b[2], b[3]}, inv, max(noise, cut)}
		switch {
		case round == 0:
			cut = 0.3
		case round == 4:
			if l.along.traced(&inv, 2, l.sigma) {
				held = courseTraced
			} else {
				return l, n, true
			}
		}
	}
	return l, n, true
}

// course is how an edge runs along the seam besides what its trace says, mm at alongScale
// from the station: turned, and bent.
type course struct{ turn, bend float64 }

func (c *course) at(x float64) float64 {
	t := x / alongScale
	return float64(t * (c.turn + float64(t*c.bend)))
}

// heldCourse is what is known of a course before, one standard uncertainty, mm.
type heldCourse struct{ turn, bend float64 }

var (
	// A trace that took a chamfer for a roll may stray by half a millimetre.
	courseFree = heldCourse{1, 0.5}
	// A good one does not: 0.05 mm a slab over seven of them.
	courseTraced = heldCourse{tracedTurn * alongScale, 0.02}
)

// add holds the unknowns from at on, of points that scatter by sigma; last is where the
// step begins that is asked for, nil for a course that is itself asked for.
func (h *heldCourse) add(eq *normalEq, at int, sigma float64, last *course) {
	for i, u := range [2]float64{h.turn, h.bend} {
		w := sigma * sigma / (u * u)
		eq.a[at+i][at+i] += w
		if last != nil {
			eq.b[at+i] -= float64(w * [2]float64{last.turn, last.bend}[i])
		}
	}
}

// traced reports whether what was found of a course is no more than chance or than a good trace leaves.
func (c *course) traced(inv *[maxUnknowns]row, at int, sigma float64) bool {
	const beyond = 3.0
	for i, v := range [2]float64{c.turn, c.bend} {
		u := [2]float64{courseTraced.turn, courseTraced.bend}[i]
		if v*v > beyond*beyond*(float64(sigma*sigma*inv[at+i][at+i])+float64(u*u)) {
			return false
		}
	}
	return true
}

// at returns where the flank lies at a depth, and the variance of that.
func (l *flank) at(w float64) (v, variance float64) {
	c := &l.inv
	return l.a + float64(l.b*w), l.sigma * l.sigma * (c[0][0] + float64(2*w*c[0][1]) + float64(w*w*c[1][1]))
}

const (
	wallLean  = 60 * math.Pi / 180 // a wall below a corner leans more
	wallOver  = 115 * math.Pi / 180
	facetFrom = 18 * math.Pi / 180
	facetTo   = 70 * math.Pi / 180
	corners   = 0.15 // mm, points nearer to a corner have normals of either side
)

// fitStraight fits the wall below a corner and meets it with the face; a chamfer's
// facet first, then the wall below it. Normals tell facet from wall.
func fitStraight(pts []zonePoint, f *face, s, noise float64, kind EdgeKind) edge {
	if kind == Chamfer {
		return fitChamfer(pts, f, s, noise)
	}
	e := edge{kind: kind, s: s, form: cornerCourse}
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	of := among{wallLean, wallOver, -corners, -flankDeep, flankAside}
	wall, n, ok := fitFlank(pts, f, s, noise, of)
	// A small fillet is no wall yet; its points are left out where enough remain.
	of.top = -0.5
	if clear, m, good := fitFlank(pts, f, s, noise, of); good && m >= 2*minOnFace/3 {
		wall, n, ok = clear, m, true
	} else {
		e.form = smallFillet
	}
	e.n = n
	if ok && wall.b >= -1/geom.Tan(steepest) {
		e.s, e.wall = e.s+wall.a/q, wall.b
		e.found, e.seen = true, math.Pi/2
		_, e.data[0][0] = wall.at(0)
		e.phis = []float64{math.Pi / 2, math.Pi / 2}
	}
	return e
}

// fitChamfer fits a facet, follows it to where it ends and meets it with the wall there.
// The nose may lie as deep as the facet is wide and flankDeep more.
func fitChamfer(pts []zonePoint, f *face, s, noise float64) edge {
	e := edge{kind: Chamfer, s: s, form: cornerCourse}
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	of := among{facetFrom, facetTo, -corners, -flankDeep, flankAside}
	facet, _, ok := fitFlank(pts, f, s, noise, of)
	if !ok || !(facet.b < 0) {
		return e
	}
	down := facet.end(pts, f, s, noise)
	of = among{steepest, wallOver, min(-corners, down+corners), down - flankDeep, flankAside + float64(facet.b*down)}
	wall, _, ok := fitFlank(pts, f, s, noise, of)
	if !ok || math.Abs(facet.b-wall.b) < 0.2 {
		return e
	}
	// Facet and wall meet at depth w.
	w := (wall.a - facet.a) / (facet.b - wall.b)
	c := chamfer{vs: facet.a, vn: facet.a + float64(facet.b*w), wn: w, wall: wall.b}
	if !c.fit(pts, f, s, noise) {
		return e
	}
	e.s += c.vs / q
	e.r = c.vn - c.vs
	e.fall, e.wall = -c.wn/e.r, c.wall
	e.n, e.sigma, e.strays = c.n, c.sigma, c.strays
	e.found = -c.wn <= e.r+flankDeep && e.fall >= geom.Tan(facetFrom)
	e.seen = math.Pi / 2
	e.phis = []float64{math.Pi / 2, math.Pi / 2}
	e.data[0][0] = c.cov[0][0]
	e.data[1][1] = c.cov[0][0] + c.cov[1][1] - float64(2*c.cov[0][1])
	e.data[0][1] = c.cov[0][1] - c.cov[0][0]
	e.data[1][0] = e.data[0][1]
	return e
}

// end follows a facet down to where no more points lie on it, mm above the face.
func (l *flank) end(pts []zonePoint, f *face, s, noise float64) float64 {
	const (
		off   = 0.2 // mm, and four times the noise
		lean  = 15 * math.Pi / 180
		hole  = 1.5 // mm, down a facet without points
		depth = 9.0 // mm
	)
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	k := math.Sqrt(1 + float64(l.b*l.b))
	own := geom.Atan2(1, -l.b)
	var on []float64
	for i := range pts {
		p := &pts[i]
		w := (p.h - f.at(p.x, p.y)) / q
		if w > -corners || w < -depth {
			continue
		}
		v := float64((p.y-s)*q) + float64(m*w)
		if math.Abs(v-l.a-float64(l.b*w))/k > off+float64(4*noise) {
			continue
		}
		if tilt := geom.Atan2(p.ny+float64(m*p.nh), p.nh-float64(m*p.ny)); math.Abs(tilt-own) <= lean {
			on = append(on, w)
		}
	}
	slices.Sort(on)
	end := 0.0
	for i := len(on) - 1; i >= 0 && end-on[i] <= hole; i-- {
		end = on[i]
	}
	return end
}
