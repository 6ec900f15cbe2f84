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
// returns the mask of those within its limit. Children that are not there may be
// in it; of those that are not within, the distance is not written.
func boxesGo(w *wide, q *probe, d2 *lanes) uint32 {
	var mask uint32
	for i := range width {
		d := beside(w.lo[0][i], w.hi[0][i], q.x)
		if d *= d; d > q.limit {
			continue
		}
		e := beside(w.lo[2][i], w.hi[2][i], q.z)
		if d += e * e; d > q.limit {
			continue
		}
		e = beside(w.lo[1][i], w.hi[1][i], q.y)
		if d += e * e; d <= q.limit {
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
// returns the mask of those within it that may face as asked. A distance that is
// not a number is within; lanes that are not used may be. Of those that are not
// within, the distance is not written.
func trianglesGo(l *leaf, q *probe, d2 *lanes) uint32 {
	var may uint32
	least, limit := q.limit, q.limit
	lo, hi := q.around(limit)
	for k := range width {
		i := (k + int(q.first)) & (width - 1)
		if l.a[0][i] > hi[0] && l.b[0][i] > hi[0] && l.c[0][i] > hi[0] ||
			l.a[0][i] < lo[0] && l.b[0][i] < lo[0] && l.c[0][i] < lo[0] ||
			l.a[2][i] > hi[2] && l.b[2][i] > hi[2] && l.c[2][i] > hi[2] ||
			l.a[2][i] < lo[2] && l.b[2][i] < lo[2] && l.c[2][i] < lo[2] ||
			l.a[1][i] > hi[1] && l.b[1][i] > hi[1] && l.c[1][i] > hi[1] ||
			l.a[1][i] < lo[1] && l.b[1][i] < lo[1] && l.c[1][i] < lo[1] {
			continue // all corners beyond the same side of the box that holds everything near enough
		}
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
			// (a + b)² is at most 1.02 a² + 51 b²; the exact bound, with its root, comes last.
			if closer := 1.03*d + 52*q.slack*q.slack; closer < limit {
				limit = closer
				lo, hi = q.around(limit)
			}
		}
	}
	if may == 0 {
		return 0
	}
	bound := float32(math.Sqrt(float64(least)))*q.scale + q.slack
	if bound *= bound; bound < q.limit {
		q.limit = bound
	}
	mask := may
	for ; may != 0; may &= may - 1 {
		if i := bits.TrailingZeros32(may) & (width - 1); d2[i] > q.limit {
			mask &^= 1 << i
		}
	}
	return mask
}

type vec32 struct{ x, y, z float32 }

func (a vec32) sub(b vec32) vec32   { return vec32{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec32) dot(b vec32) float32 { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec32) cross(b vec32) vec32 {
	return vec32{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}

// triangleDist2 takes the plane's distance where the point lies inside all three
// sides and elsewhere that of the nearest of those sides which the point lies
// outside of; or says that the triangle is beyond the limit. The sides of an
// unsure triangle may point anywhere, so that all three count.
func triangleDist2(l *leaf, q *probe, i int, limit float32) (d2 float32, far bool) {
	p := vec32{q.x, q.y, q.z}
	n := vec32{l.n[0][i], l.n[1][i], l.n[2][i]}
	a := vec32{l.a[0][i], l.a[1][i], l.a[2][i]}
	h := n.dot(a.sub(p))
	if h *= h; h > limit {
		return 0, true
	}
	b, c := vec32{l.b[0][i], l.b[1][i], l.b[2][i]}, vec32{l.c[0][i], l.c[1][i], l.c[2][i]}
	best := float32(math.Inf(1))
	inside, sure := true, l.face[i]&unsure == 0
	for range 3 {
		from, e := a.sub(p), b.sub(a)
		a, b, c = b, c, a
		outside := n.cross(e).dot(from)
		within := outside <= 0
		if within && sure {
			continue
		}
		inside = inside && within
		l := e.dot(e)
		// The distance outside, outside/sqrt(l), is a part of the whole that is square to h.
		if sure && outside*outside > (limit-h)*l*(1+8*half32) {
			return 0, true
		}
		u := from.dot(e) / l
		if !(u < 0) { // also where a side has no length
			u = 0
		}
		if u < -1 {
			u = -1
		}
		r := from.sub(vec32{u * e.x, u * e.y, u * e.z})
		if d := r.dot(r); d < best {
			best = d
		}
	}
	if inside {
		return h, false
	}
	return best, false
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
