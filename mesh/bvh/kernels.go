package bvh

import (
	"math"
	"math/bits"
)

//go:generate go run -C kernelgen . -out ../kernels_amd64.s -stubs ../kernels_amd64.go -pkg bvh

// The kernels look at eight boxes or triangles at once, in float32. They only
// decide what float64 must look at, so their twins below may round differently
// (the vector ones fuse products into sums) without any answer changing.

// boxesGo writes the squared distances from the probe to the children's boxes and
// returns the mask of those within its limit, of those that may be; pack may be nil. Children
// that are not there may be in it; of those that are not within, the distance is not written.
func boxesGo(w *wide, pack *packed, q *probe, d2 *lanes) uint32 {
	may, mask := uint32(everyLane), uint32(0)
	if pack != nil {
		may = pack.meeting(q.box())
	}
	for ; may != 0; may &= may - 1 {
		i := bits.TrailingZeros32(may) & (width - 1)
		x, y, z := beside(w.lo[0][i], w.hi[0][i], q.x), beside(w.lo[1][i], w.hi[1][i], q.y), beside(w.lo[2][i], w.hi[2][i], q.z)
		if d := x*x + y*y + z*z; d <= q.limit {
			d2[i] = d
			mask |= 1 << i
		}
	}
	return mask
}

// beside returns how far x lies outside an interval.
func beside(lo, hi, x float32) float32 {
	if d := lo - x; d > 0 {
		return d
	}
	if d := x - hi; d > 0 {
		return d
	}
	return 0
}

// trianglesGo writes the squared distances from the probe to a leaf's triangles,
// lowers the probe's limit to what the nearest of them leaves possible, and
// returns the mask of those within it that may face as asked; pack may be nil. A distance
// that is not a number is within; lanes that are not used may be. Of those that are not
// within, the distance is not written.
func trianglesGo(l *leaf, pack *packed, q *probe, d2 *lanes) uint32 {
	var may uint32
	least := q.limit
	limit := q.limit
	left := uint32(everyLane)
	if pack != nil && limit <= math.MaxFloat32 { // else nothing can be left out
		left = pack.meeting(q.box())
	}
	// The lane of the last answer comes first: it lowers the limit most.
	for next := q.first & (width - 1); left != 0; next = uint32(bits.TrailingZeros32(left)) {
		i := int(next & (width - 1))
		if left>>i&1 == 0 {
			continue
		}
		left &^= 1 << i
		d, far := triangleDist2(l, q, i, limit)
		if far || d > limit {
			continue
		}
		turn := l.n[0][i]*q.dir[0] + l.n[1][i]*q.dir[1] + l.n[2][i]*q.dir[2]
		if q.mayFace > turn {
			continue
		}
		d2[i] = d
		may |= 1 << i
		if d < least && q.faces <= turn && l.face[i]&unsure == 0 {
			least = d
			bound := float32(math.Sqrt(float64(d)))*q.scale + q.slack
			if bound *= bound; bound < limit {
				fell := bound < limit/4 // by half the reach: else it is quicker to look than to sort out
				if limit, q.limit = bound, bound; fell && left != 0 && pack != nil {
					left &= pack.meeting(q.box())
				}
			}
		}
	}
	mask := may
	for ; may != 0; may &= may - 1 {
		if i := bits.TrailingZeros32(may) & (width - 1); d2[i] > limit {
			mask &^= 1 << i
		}
	}
	return mask
}

type vec32 struct{ x, y, z float32 }

func (a vec32) sub(b vec32) vec32 { return vec32{a.x - b.x, a.y - b.y, a.z - b.z} }

// triangleDist2 takes the plane's distance where the point lies inside all three
// sides and elsewhere that of the nearest of those sides which the point lies
// outside of; or says that the triangle is beyond the limit. The sides of an
// unsure triangle may point anywhere, so that all three count.
func triangleDist2(l *leaf, q *probe, i int, limit float32) (d2 float32, far bool) {
	i &= width - 1
	n := vec32{l.n[0][i], l.n[1][i], l.n[2][i]}
	p := vec32{q.x, q.y, q.z}
	a := vec32{l.a[0][i], l.a[1][i], l.a[2][i]}
	from := a.sub(p)
	h := n.x*from.x + n.y*from.y + n.z*from.z
	if h *= h; h > limit {
		return 0, true
	}
	b, c := vec32{l.b[0][i], l.b[1][i], l.b[2][i]}, vec32{l.c[0][i], l.c[1][i], l.c[2][i]}
	s := side{best: float32(math.Inf(1)), left: limit - h, sure: l.face[i]&unsure == 0}
	// The sides are differences of the corners themselves: seen from a far point they would be lost in roundings.
	if s.beyond(n, from, b.sub(a)) || s.beyond(n, b.sub(p), c.sub(b)) || s.beyond(n, c.sub(p), a.sub(c)) {
		return 0, true
	}
	if !s.outside {
		return h, false
	}
	return s.best, false
}

// side gathers what the sides of a triangle say of a point.
type side struct {
	best          float32 // mm², to the nearest of the sides that count
	left          float32 // mm² of the limit, square to the plane's distance
	sure, outside bool
}

// beyond looks at the side e that begins at from, relative to the point, and reports whether
// it alone shows that the triangle is beyond the limit.
func (s *side) beyond(n, from, e vec32) bool {
	outside := n.x*(e.y*from.z-e.z*from.y) + n.y*(e.z*from.x-e.x*from.z) + n.z*(e.x*from.y-e.y*from.x)
	within := outside <= 0
	if within && s.sure {
		return false
	}
	s.outside = s.outside || !within
	l := e.x*e.x + e.y*e.y + e.z*e.z
	// The distance outside, outside/sqrt(l), is a part of the whole that is square to h.
	if s.sure && outside*outside > s.left*l*(1+8*half32) {
		return true
	}
	u := (from.x*e.x + from.y*e.y + from.z*e.z) / l
	if !(u < 0) { // also where a side has no length
		u = 0
	}
	if u < -1 {
		u = -1
	}
	x, y, z := from.x-u*e.x, from.y-u*e.y, from.z-u*e.z
	if d := x*x + y*y + z*z; d < s.best {
		s.best = d
	}
	return false
}

// partitionGo moves the records whose doubled middle on the axis is below a
// number to the front and returns how many they are. least, which the caller
// fills with numbers larger than all, receives the least of every entry of
// the records on either side. Its result is the same bits as the vector kernel's.
func partitionGo(records []record, axis int, at float32, least *[2]entries) int {
	low := 0
	for i := range records {
		here := records[i]
		records[i] = records[low]
		records[low] = here
		side := 1
		if here.lo[axis]-here.neg[axis] < at {
			low++
			side = 0
		}
		into := &least[side]
		for k := range 3 {
			into[k] = min(into[k], here.lo[k])
			into[k+4] = min(into[k+4], here.neg[k])
		}
	}
	return low
}

// leastGo returns the least of every entry of some records.
func leastGo(records []record) entries {
	least := greatest
	for i := range records {
		r := &records[i]
		for k := range 3 {
			least[k] = min(least[k], r.lo[k])
			least[k+4] = min(least[k+4], r.neg[k])
		}
	}
	return least
}

// planeBoxesGo returns the mask of the children whose boxes reach into a plane's
// margin. Children that are not there may be in it.
func planeBoxesGo(w *wide, q *planeProbe) uint32 {
	var mask uint32
	for i := range width {
		var least, most float32
		for k := range 3 {
			lo, hi := q.n[k]*w.lo[k][i], q.n[k]*w.hi[k][i]
			least += min(lo, hi)
			most += max(lo, hi)
		}
		if !(least > q.to) && !(q.from > most) {
			mask |= 1 << i
		}
	}
	return mask
}

// planeTrianglesGo returns the mask of a leaf's triangles that reach into a plane's
// margin. Lanes that are not used may be in it.
func planeTrianglesGo(l *leaf, q *planeProbe) uint32 {
	var mask uint32
	for i := range width {
		a := q.n[0]*l.a[0][i] + q.n[1]*l.a[1][i] + q.n[2]*l.a[2][i]
		b := q.n[0]*l.b[0][i] + q.n[1]*l.b[1][i] + q.n[2]*l.b[2][i]
		c := q.n[0]*l.c[0][i] + q.n[1]*l.c[1][i] + q.n[2]*l.c[2][i]
		if !(min(a, b, c) > q.to) && !(q.from > max(a, b, c)) {
			mask |= 1 << i
		}
	}
	return mask
}
