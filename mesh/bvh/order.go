package bvh

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	// orderSample is how many neighbouring pairs are looked at to judge an order.
	orderSample = 1024
	// farStep is the median step from point to point, in mean spacings of points
	// spread over a square of the box's diagonal, from which on an order counts as
	// random. It decides speed alone.
	farStep = 16
	// axisBits is how finely the Morton order divides the longest axis.
	axisBits = 10
)

// Order returns an order in which questions about the points follow one another
// closely in space, or nil when the order they are in is good enough. Answers do not
// depend on the order, only how long they take.
//
// Based on: Morton (1966), sorted by radix.
func Order(points []geom.Vec) []uint32 {
	if len(points) < 2*orderSample || !scattered(points) {
		return nil
	}
	keys, lowest := make([]uint64, len(points)), geom.BoxOf(points)
	size := lowest.Hi.Sub(lowest.Lo)
	cells := (1<<axisBits - 1) / max(size.X, size.Y, size.Z)
	for i, p := range points {
		d := p.Sub(lowest.Lo).Scale(cells)
		keys[i] = (spread(d.X)|spread(d.Y)<<1|spread(d.Z)<<2)<<32 | uint64(i)
	}
	radixSort(keys, 32, 3*axisBits)
	order := make([]uint32, len(points))
	for i, k := range keys {
		order[i] = uint32(k)
	}
	return order
}

// Gather appends points lo to hi of an order to the given ones, or returns these
// points themselves when the order is nil. Reading scattered points at once is much
// quicker than one between every two questions.
func Gather(points []geom.Vec, order []uint32, lo, hi int, onto []geom.Vec) []geom.Vec {
	if order == nil {
		return points[lo:hi]
	}
	for _, i := range order[lo:hi] {
		onto = append(onto, points[i])
	}
	return onto
}

// scattered reports whether points that follow one another lie far apart.
func scattered(points []geom.Vec) bool {
	box := geom.EmptyBox()
	steps := make([]float64, 0, orderSample)
	stride := len(points) / orderSample
	for i := 0; i+1 < len(points) && len(steps) < orderSample; i += stride {
		box = box.Extend(points[i])
		steps = append(steps, points[i].Dist(points[i+1]))
	}
	slices.Sort(steps)
	diagonal := box.Hi.Sub(box.Lo).Norm()
	return steps[len(steps)/2] > farStep*diagonal/math.Sqrt(float64(len(points)))
}

// spread puts two free bits after each of the lowest axisBits bits of x, which is clamped to what they hold.
func spread(x float64) uint64 {
	v := uint64(min(max(x, 0), 1<<axisBits-1))
	v = (v | v<<16) & 0x030000ff
	v = (v | v<<8) & 0x0300f00f
	v = (v | v<<4) & 0x030c30c3
	return (v | v<<2) & 0x09249249
}

// radixSort sorts by the given bits of the keys, from bit low on, and leaves keys equal there in their order.
func radixSort(keys []uint64, low, bits int) {
	const digit = 10
	other := make([]uint64, len(keys))
	a, b := keys, other
	for shift := low; shift < low+bits; shift += digit {
		var start [1 << digit]int
		for _, k := range a {
			start[k>>shift&(1<<digit-1)]++
		}
		sum := 0
		for i, n := range start {
			start[i] = sum
			sum += n
		}
		for _, k := range a {
			d := k >> shift & (1<<digit - 1)
			b[start[d]] = k
			start[d]++
		}
		a, b = b, a
	}
	if &a[0] != &keys[0] {
		copy(keys, a)
	}
}
