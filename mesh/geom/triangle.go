package geom

// Feature says on which part of a triangle a closest point lies.
type Feature uint8

// The features of a triangle with corners a, b, c.
const (
	OnFace Feature = iota
	OnEdgeAB
	OnEdgeBC
	OnEdgeCA
	OnVertexA
	OnVertexB
	OnVertexC
)

// thin is the share of (longest side at a)⁴ below which the squared double area
// of a triangle marks it as thin: height under a tenth of the side. The products
// of the general method carry a relative error of some 2^-52 side⁴/area² (at
// this limit 2e-14 of the side, but 9 mm for a side of 100 mm and a height of
// 1e-5 mm), so thin triangles go another way.
const thin = 0.01

// ClosestOnTriangle returns the point of triangle a, b, c that is closest to
// p, and the feature it lies on; triangles of any shape are handled to within a
// few roundings of their coordinates relative to p, degenerate ones as the
// segment or point they are.
//
// Based on: Ericson, "Real-Time Collision Detection" (2005), section 5.1.5.
func ClosestOnTriangle(p, a, b, c Vec) (Vec, Feature) {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	bb, bc, cc := ab.Dot(ab), ab.Dot(ac), ac.Dot(ac)
	if l := max(bb, cc); !(float64(bb*cc)-float64(bc*bc) >= thin*l*l) || l == 0 {
		return closestOnThin(p, a, b, c)
	}
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a, OnVertexA
	}
	// ab·(p-b) and its like follow from what is known.
	d3, d4 := d1-bb, d2-bc
	if d3 >= 0 && d4 <= d3 {
		return b, OnVertexB
	}
	vc := float64(d1*d4) - float64(d3*d2)
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return a.AddScaled(d1/bb, ab), OnEdgeAB
	}
	d5, d6 := d1-bc, d2-cc
	if d6 >= 0 && d5 <= d6 {
		return c, OnVertexC
	}
	vb := float64(d5*d2) - float64(d1*d6)
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return a.AddScaled(d2/cc, ac), OnEdgeCA
	}
	va := float64(d3*d6) - float64(d5*d4)
	if e, f := d4-d3, d5-d6; va <= 0 && e >= 0 && f >= 0 {
		return b.AddScaled(e/(e+f), c.Sub(b)), OnEdgeBC
	}
	den := va + vb + vc
	return a.AddScaled(vb/den, ab).AddScaled(vc/den, ac), OnFace
}

// closestOnThin takes the direction along the longest side first and the rest
// square to it, so that no small difference of large products arises: what is
// inside lies within the height of the longest side, and its error is the
// rounding of the coordinates.
func closestOnThin(p, a, b, c Vec) (Vec, Feature) {
	s, t, h := a, b, c
	if u, v := b.Sub(c).Norm2(), c.Sub(a).Norm2(); u > a.Sub(b).Norm2() && u >= v {
		s, t, h = b, c, a
	} else if v > a.Sub(b).Norm2() {
		s, t, h = c, a, b
	}
	long, sh, sp := t.Sub(s), h.Sub(s), p.Sub(s)
	l := long.Norm2()
	if l > 0 {
		along, foot := sp.Dot(long)/l, sh.Dot(long)/l
		up := sh.AddScaled(-foot, long)
		if u := up.Norm2(); u > 0 {
			third := sp.AddScaled(-along, long).Dot(up) / u
			second := along - float64(third*foot)
			if third > 0 && second > 0 && third+second < 1 {
				return s.AddScaled(along, long).AddScaled(third, up), OnFace
			}
		}
	}
	return closestOnSides(p, a, b, c)
}

// closestOnSides returns the closest point of the three sides.
func closestOnSides(p, a, b, c Vec) (Vec, Feature) {
	best, feature := closestOnSegment(p, a, b, OnEdgeAB, OnVertexA, OnVertexB)
	if q, f := closestOnSegment(p, b, c, OnEdgeBC, OnVertexB, OnVertexC); q.Sub(p).Norm2() < best.Sub(p).Norm2() {
		best, feature = q, f
	}
	if q, f := closestOnSegment(p, c, a, OnEdgeCA, OnVertexC, OnVertexA); q.Sub(p).Norm2() < best.Sub(p).Norm2() {
		best, feature = q, f
	}
	return best, feature
}

func closestOnSegment(p, a, b Vec, between, atA, atB Feature) (Vec, Feature) {
	ab := b.Sub(a)
	switch s, l := p.Sub(a).Dot(ab), ab.Norm2(); {
	case s <= 0 || l == 0:
		return a, atA
	case s >= l:
		return b, atB
	default:
		return a.AddScaled(s/l, ab), between
	}
}
