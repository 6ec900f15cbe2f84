package gapflush

import (
	"math"
)

// sideState is what the outcome of a station is computed from, of one side.
type sideState struct {
	face  face
	edge  edge
	uc    float64 // standard uncertainty of the face's curvature, 1/mm
	pitch float64 // mm, spacing of points on the edge; 0 where none was found
	off   float64 // mm, what the points before the shoulder say the carried-on face is out by
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
	g := figures{edges: o}
	g.gap = dot(t, sub(ot.noseAlong(back), mo.noseAlong(t)))
	g.flush = dot(n, sub(ot.shoulder, mo.shoulder))
	// The other face's direction away from the gap; it falls away when it points below t.
	away := Point2{-ot.tangent.S, -ot.tangent.H}
	g.angle = math.Atan2(-dot(away, n), dot(away, t))
	return g
}

// carryCheck compares the face, carried on from its zone, with the points it
// was carried over. Where they lie off by more than chance allows (2.5 standard
// deviations of their mean), half of that counts as uncertainty at the shoulder.
func (s *sideState) carryCheck(pts []zonePoint, shoulder float64) {
	const from = 0.2 // mm behind the shoulder
	s.off = 0
	for _, to := range [...]float64{0.8, 1.25, 2.5} {
		var e []float64
		for _, p := range pts {
			if d := shoulder - p.y; d >= from && d <= to && p.nh > facing {
				e = append(e, p.h-s.face.at(p.x, p.y))
			}
		}
		if len(e) < 6 {
			continue
		}
		n := float64(len(e))
		m := median(e)
		// 1.57 is the variance of a median over that of a mean.
		if se := math.Sqrt(1.57*s.face.sigma*s.face.sigma/n + s.face.cov[0][0]); math.Abs(m) > 2.5*se {
			s.off = max(s.off, math.Abs(m)/2)
		}
	}
}
