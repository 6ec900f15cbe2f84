package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// touch is where a feeler touches two edges: its length and the places on them.
type touch struct{ length, a, b float64 }

// along returns the direction of the feeler from a to b.
func (c *touch) along(a, b *outline) Point2 {
	d := sub(b.at(c.b), a.at(c.a))
	l := length(d)
	return Point2{d.S / l, d.H / l}
}

// feeler finds the shortest distance between the two fitted edges, length 0 when
// they cross. Two rolls have it in closed form where the line through their
// centres meets both within what belongs to them; else places along both are tried.
func feeler(a, b *outline, t Point2) touch {
	const steps = 48
	back := Point2{-t.S, -t.H}
	ra, rb := a.reach(t), b.reach(back)
	// Rolls whose circles lie apart do not cross, and nothing on them is nearer than their line of centres.
	d := sub(b.centre, a.centre)
	if l := length(d); l > a.r+b.r && l > 0 {
		e := Point2{d.S / l, d.H / l}
		ua, okA := a.holds(e, t)
		ub, okB := b.holds(Point2{-e.S, -e.H}, back)
		if okA && okB {
			return touch{l - a.r - b.r, ua, ub}
		}
	}
	na, nb := int(max(ra, 1)), int(max(rb, 1)) // a chamfer's facet, and its wall
	if a.r > 0 {
		na = steps
	}
	if b.r > 0 {
		nb = steps
	}
	var pa, pb [steps + 1]Point2
	for i := 0; i <= na; i++ {
		pa[i] = a.at(ra * float64(i) / float64(na))
	}
	for i := 0; i <= nb; i++ {
		pb[i] = b.at(rb * float64(i) / float64(nb))
	}
	for i := 1; i <= na; i++ {
		for j := 1; j <= nb; j++ {
			if crossing(pa[i-1], pa[i], pb[j-1], pb[j]) {
				return touch{}
			}
		}
	}
	best := touch{length: math.Inf(1)}
	try := func(d, i, j float64) {
		if d < best.length {
			best = touch{d, ra * i / float64(na), rb * j / float64(nb)}
		}
	}
	for i := 0; i <= na; i++ {
		for j := 0; j <= nb; j++ {
			x, y := float64(i), float64(j)
			try(length(sub(pa[i], pb[j])), x, y)
			if i > 0 {
				d, u := toSegment(pb[j], pa[i-1], pa[i])
				try(d, x-1+u, y)
			}
			if j > 0 {
				d, u := toSegment(pa[i], pb[j-1], pb[j])
				try(d, x, y-1+u)
			}
		}
	}
	return best
}

// holds returns the place at which an edge looks along e, and whether it belongs to it.
func (o *outline) holds(e, t Point2) (u float64, ok bool) {
	if o.kind == Chamfer || o.flange.on {
		return 0, false
	}
	if o.kind == Sharp || o.r == 0 {
		return 0, true
	}
	u = geom.Atan2(dot(e, o.tangent), dot(e, o.normal))
	return u, u >= 0 && u <= o.reach(t)
}

// toSegment returns the distance of p from ab and the share of ab at which it is reached.
func toSegment(p, a, b Point2) (d, u float64) {
	v := sub(b, a)
	l := dot(v, v)
	if l == 0 {
		return length(sub(p, a)), 0
	}
	u = min(max(dot(sub(p, a), v)/l, 0), 1)
	return length(sub(p, along(a, u, v))), u
}

func crossing(a, b, c, d Point2) bool {
	side := func(p, q, r Point2) float64 {
		u, v := sub(q, p), sub(r, p)
		return float64(u.S*v.H) - float64(u.H*v.S)
	}
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}
