package gapflush

import (
	"math"

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
type flank struct{ a, b, cov00 float64 }

// fitFlank fits the points below s whose normals lean from lo to hi, in radians, from the face
// and that lie lower than top. n is how many they are.
func fitFlank(pts []zonePoint, f *face, s, noise, lo, hi, top float64) (l flank, n int, ok bool) {
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	cut := 0.6
	for round := range 5 {
		eq := normalEq{n: 2}
		var abs []float64
		n = 0
		for i := range pts {
			p := &pts[i]
			w := (p.h - f.at(p.x, p.y)) / q
			v := float64((p.y-s)*q) + float64(m*w)
			tilt := geom.Atan2(p.ny+float64(m*p.nh), p.nh-float64(m*p.ny))
			if tilt < lo || tilt > hi || w > top || w < -flankDeep || math.Abs(v) > flankAside {
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
		l = flank{b[0], b[1], inv[0][0] * max(noise, cut) * max(noise, cut)}
		if round == 0 {
			cut = 0.3
		}
	}
	return l, n, true
}

// fitStraight fits the wall below a corner and meets it with the face; a chamfer's
// facet first, then the wall below it. Normals tell facet from wall.
func fitStraight(pts []zonePoint, f *face, s, noise float64, kind EdgeKind) edge {
	e := edge{kind: kind, s: s}
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	fit := func(lo, hi, top float64) (flank, int, bool) { return fitFlank(pts, f, s, noise, lo, hi, top) }
	deg := math.Pi / 180
	lo := 60 * deg
	if kind == Chamfer {
		lo = steepest
	}
	wall, n, okWall := fit(lo, 115*deg, -0.15)
	if kind == Sharp {
		// A small fillet is no wall yet; its points are left out where enough remain.
		if clear, m, ok := fit(lo, 115*deg, -0.5); ok && m >= 2*minOnFace/3 {
			wall, n, okWall = clear, m, true
		} else {
			e.form = smallFillet
		}
	}
	e.n = n
	e.form = max(e.form, cornerCourse)
	if kind == Sharp {
		if okWall && wall.b >= -1/geom.Tan(steepest) {
			e.s, e.wall = e.s+wall.a/q, wall.b
			e.found, e.seen = true, math.Pi/2
			e.data[0][0] = wall.cov00
			e.phis = []float64{math.Pi / 2, math.Pi / 2}
		}
		return e
	}
	facet, nf, okFacet := fit(18*deg, 70*deg, -0.15)
	if !okFacet || !okWall || math.Abs(facet.b-wall.b) < 0.2 {
		return e
	}
	// facet and wall meet at depth w
	w := (wall.a - facet.a) / (facet.b - wall.b)
	e.s += facet.a / q
	e.r = facet.b * w
	e.fall, e.wall = -w/e.r, wall.b
	e.n = n + nf
	e.found = e.r > 0 && w < 0
	e.seen = math.Pi / 2
	e.phis = []float64{math.Pi / 2, math.Pi / 2}
	e.data[0][0] = facet.cov00
	e.data[1][1] = facet.cov00 + wall.cov00
	e.data[0][1], e.data[1][0] = -facet.cov00, -facet.cov00
	return e
}
