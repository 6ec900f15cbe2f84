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

// ClosestOnTriangle returns the point of triangle a, b, c that is closest to
// p, and the feature it lies on. Degenerate triangles are handled as the
// segment or point they are.
//
// Based on: Ericson, "Real-Time Collision Detection" (2005), section 5.1.5.
func ClosestOnTriangle(p, a, b, c Vec) (Vec, Feature) {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a, OnVertexA
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return b, OnVertexB
	}
	vc := float64(d1*d4) - float64(d3*d2)
	if vc <= 0 && d1 >= 0 && d3 <= 0 && d1 > d3 {
		return a.AddScaled(d1/(d1-d3), ab), OnEdgeAB
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return c, OnVertexC
	}
	vb := float64(d5*d2) - float64(d1*d6)
	if vb <= 0 && d2 >= 0 && d6 <= 0 && d2 > d6 {
		return a.AddScaled(d2/(d2-d6), ac), OnEdgeCA
	}
	va := float64(d3*d6) - float64(d5*d4)
	if e, f := d4-d3, d5-d6; va <= 0 && e >= 0 && f >= 0 && e+f > 0 {
		return b.AddScaled(e/(e+f), c.Sub(b)), OnEdgeBC
	}
	den := va + vb + vc
	if !(den > 0) {
		return closestOnSides(p, a, b, c)
	}
	v, w := vb/den, vc/den
	return a.AddScaled(v, ab).AddScaled(w, ac), OnFace
}

// closestOnSides serves triangles so thin that rounding leaves them no inside.
func closestOnSides(p, a, b, c Vec) (Vec, Feature) {
	best, feature := closestOnSegment(p, a, b), OnEdgeAB
	if q := closestOnSegment(p, b, c); q.Sub(p).Norm2() < best.Sub(p).Norm2() {
		best, feature = q, OnEdgeBC
	}
	if q := closestOnSegment(p, c, a); q.Sub(p).Norm2() < best.Sub(p).Norm2() {
		best, feature = q, OnEdgeCA
	}
	return best, feature
}

func closestOnSegment(p, a, b Vec) Vec {
	ab := b.Sub(a)
	l := ab.Norm2()
	if l == 0 {
		return a
	}
	return a.AddScaled(min(max(p.Sub(a).Dot(ab)/l, 0), 1), ab)
}
