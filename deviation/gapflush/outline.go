package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// outline is a fitted edge in the station's plane (S along a, H along u).
type outline struct {
	shoulder, tangent, normal, centre Point2
	r                                 float64
	nose                              Point2 // of a chamfer
	kind                              EdgeKind
	flange                            laid
}

func sub(a, b Point2) Point2 { return Point2{a.S - b.S, a.H - b.H} }

func dot(a, b Point2) float64 { return float64(a.S*b.S) + float64(a.H*b.H) }

func along(a Point2, k float64, d Point2) Point2 {
	return Point2{a.S + float64(k*d.S), a.H + float64(k*d.H)}
}

func length(a Point2) float64 { return math.Sqrt(dot(a, a)) }

func outlineOf(k Side, s *sideState, d [5]float64) outline {
	f := s.face
	f.h0 += d[0]
	f.m += d[1]
	f.c += d[2]
	es, er := s.edge.s+d[3], s.edge.r+d[4]
	flip := 1.0
	if k == B {
		flip = -1
	}
	m := f.slope(es)
	q := math.Sqrt(1 + float64(m*m))
	o := outline{kind: s.edge.kind, shoulder: Point2{flip * es, f.at0(es)}, tangent: Point2{flip / q, m / q}, normal: Point2{-flip * m / q, 1 / q}}
	if s.edge.kind == Round {
		o.r = er
	}
	o.centre = along(o.shoulder, -o.r, o.normal)
	o.nose = o.shoulder
	if s.edge.kind == Chamfer {
		o.nose = along(along(o.shoulder, er, o.tangent), -er*s.edge.fall, o.normal)
	}
	o.lay(k, &s.flange)
	return o
}

// noseAlong is the first point, from the face on, that stops advancing along t.
func (o *outline) noseAlong(t Point2) Point2 {
	switch {
	case o.kind == Sharp:
		return o.nose
	case o.flange.leads(t):
		return along(o.flange.at, o.flange.end, o.flange.down)
	case o.kind == Chamfer:
		return o.nose
	}
	return along(o.centre, o.r, t)
}

// noseAmong reports whether points at these angles on an edge show its nose along t.
func (o *outline) noseAmong(phis []float64, t Point2) bool {
	phi := geom.Atan2(dot(t, o.tangent), dot(t, o.normal))
	near := 0
	for _, p := range phis {
		if math.Abs(p-phi) <= 10*math.Pi/180 || o.kind != Round {
			near++
		}
	}
	return near >= 2
}

// reach is how far an edge counts for the feeler: in radians from the shoulder to
// 30° past its nose, or, of one that a flange leads on from, to the nose at the flange's end; 1, from shoulder to nose, for what is not round,
// and 2 where a wall leads on from a chamfer.
func (o *outline) reach(t Point2) float64 {
	if o.kind == Chamfer && o.flange.leads(t) {
		return 2
	}
	if o.kind != Round || o.r == 0 {
		return 1
	}
	if o.flange.leads(t) {
		return o.flangeFrom() + flangeParts
	}
	return geom.Atan2(dot(t, o.tangent), dot(t, o.normal)) + math.Pi/6
}

// flangeFrom is where on a roll, radians from the shoulder on, its flange begins.
func (o *outline) flangeFrom() float64 {
	return geom.Atan2(-dot(o.flange.down, o.normal), dot(o.flange.down, o.tangent))
}

// flangeParts stands for the whole of a flange among the radians of its roll: a third of the places on an edge then lie on it.
const flangeParts = 0.75

// at returns the edge's point at u: radians on a roll and then a share of the flange, where the nose lies on it;
// else the share of the way to the nose, and beyond 1 of the wall on which the nose lies.
func (o *outline) at(u float64) Point2 {
	if o.kind == Chamfer && o.flange.on && u > 1 {
		l := &o.flange
		return along(l.at, l.top+float64((l.end-l.top)*(u-1)), l.down)
	}
	if o.kind != Round || o.r == 0 {
		return along(o.shoulder, u, sub(o.nose, o.shoulder))
	}
	if o.flange.on {
		if from := o.flangeFrom(); u > from {
			l := &o.flange
			return along(l.at, l.top+float64((l.end-l.top)*(u-from)/flangeParts), l.down)
		}
	}
	sn, cs := geom.Sincos(u)
	return along(along(o.centre, o.r*sn, o.tangent), o.r*cs, o.normal)
}
