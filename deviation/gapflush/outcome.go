package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// sideState is what the outcome of a station is computed from, of one side.
type sideState struct {
	face    face
	edge    edge
	flange  flange
	uc      float64 // standard uncertainty of the face's curvature, 1/mm
	pitch   float64 // mm, spacing of points on the edge; 0 where none was found
	tilt    float64 // radians, by which they say it is turned there
	carry   carried
	sunkU   float64       // mm, standard uncertainty of what smoothing did to the edge
	formU   float64       // mm, of the edge's form
	shape   [2][2]float64 // mm, by which a form that the seam's edges share moves s and r, as two independent causes
	slidU   float64       // mm, of a shoulder that smoothing may have moved along the face while the nose stayed
	assumed float64       // by how many times the radius is known less well than it was assumed for the fit
	off     float64       // mm, what the points before the shoulder say the carried-on face is out by
}

// figures of a station, and the fitted edges they come from.
type figures struct {
	gap, flush, angle float64
	edges             [2]outline
}

func evaluate(s *[2]sideState, d *[2][5]float64, master Side) figures {
	o := [2]outline{outlineOf(A, &s[A], d[A]), outlineOf(B, &s[B], d[B])}
	mo, ot := &o[master], &o[1-master]
	t, n := mo.tangent, mo.normal
	back := Point2{-t.S, -t.H}
	mo.flange.on, ot.flange.on = mo.flange.leads(t), ot.flange.leads(back)
	g := figures{edges: o}
	g.gap = dot(t, sub(ot.noseAlong(back), mo.noseAlong(t)))
	g.flush = dot(n, sub(ot.shoulder, mo.shoulder))
	// The other face's direction away from the gap; it falls away when it points below t.
	away := Point2{-ot.tangent.S, -ot.tangent.H}
	g.angle = geom.Atan2(-dot(away, n), dot(away, t))
	return g
}

// carried is how the points before a shoulder lie to the face carried on over them.
type carried struct {
	height, turn float64 // mm, radians; signed
	ok           bool
}

const (
	// offFrom and offTo are how far, mm, before a shoulder points lie that say whether a face runs on to it.
	offFrom, offTo = 0.3, 2.5
	// deepest is how far off it, mm, they are that are of another part.
	deepest = 1.5
)

// astray counts the points before a shoulder that lie off the face carried on to it.
type astray struct {
	cut    float64 // mm
	n, off int
}

// add counts a point that lies d mm before the shoulder and w mm off the face, nh being the part of its normal square to it.
func (a *astray) add(d, w, nh float64) {
	if w = math.Abs(w); d < offFrom || d > offTo || nh <= facing || w > deepest {
		return
	}
	if a.n++; w > a.cut {
		a.off++
	}
}

// many reports whether more lie off it than crumbs do.
func (a *astray) many() bool {
	const least = 6 // points
	return a.n >= least && 3*a.off > a.n
}

// carryFrom is how far behind the shoulder, in mm, points surely lie on the face.
const carryFrom = 0.2

// carryCheck compares the face, carried on from its zone, with the points it was
// carried over. Where they lie off by more than chance allows (2.5 standard
// deviations of their mean), half of that counts as uncertainty at the shoulder;
// where they tilt from it, half of the tilt does.
func (s *sideState) carryCheck(pts []zonePoint, shoulder, from float64) {
	const (
		tiltTo = 5.0
		least  = 6 // points
		surely = 2.5
	)
	s.off, s.tilt, s.carry = 0, 0, carried{}
	for _, to := range [...]float64{0.6, 1.05, 2.3} {
		to += from
		var e []float64
		for i := range pts {
			p := &pts[i]
			if d := shoulder - p.y; d >= from && d <= to && p.nh > facing {
				// What lies farther off is another panel.
				if off := p.h - s.face.at(p.x, p.y); math.Abs(off) <= layerHeight {
					e = append(e, off)
				}
			}
		}
		if len(e) < least {
			continue
		}
		n := float64(len(e))
		m := median(e)
		if !s.carry.ok {
			s.carry.height, s.carry.ok = m, true // of the nearest
		}
		// 1.57 is the variance of a median over that of a mean.
		if se := math.Sqrt(1.57*s.face.sigma*s.face.sigma/n + s.face.cov[0][0]); math.Abs(m) > surely*se {
			s.off = max(s.off, math.Abs(m)/2)
		}
	}
	q := normalEq{n: 2}
	n := 0
	for i := range pts {
		p := &pts[i]
		if d := shoulder - p.y; d >= from && d <= tiltTo && p.nh > facing {
			e := p.h - s.face.at(p.x, p.y)
			if w := tukey(e, 3*s.face.sigma); w > 0 && math.Abs(e) <= layerHeight {
				q.add(&row{1, d / tiltTo}, e, w)
				n++
			}
		}
	}
	inv, ok := q.inverse()
	if !ok || n < 2*least {
		return
	}
	tilt := q.apply(&inv)[1] / tiltTo
	s.carry.turn = tilt
	if se := math.Sqrt(s.face.sigma*s.face.sigma*inv[1][1]/(tiltTo*tiltTo) + s.face.cov[1][1]); math.Abs(tilt) > surely*se {
		s.tilt = math.Abs(tilt) / 2
	}
}
