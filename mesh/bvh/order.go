package bvh

import (
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/morton"
)

const (
	// orderSample is how many neighbouring pairs are looked at to judge an order.
	orderSample = 1024
	// farStep is the median step from point to point, in mean spacings of points
	// spread over a square of the box's diagonal, from which on an order counts as
	// random. It decides speed alone.
	farStep = 16
)

// Order returns an order in which questions about the points follow one another
// closely in space, or nil when the order they are in is good enough. Answers do not
// depend on the order, only how long they take.
func Order(points []geom.Vec) []uint32 {
	if len(points) < 2*orderSample || !scattered(points) {
		return nil
	}
	curve := morton.New(geom.BoxOf(points))
	entries := make([]morton.Entry, len(points))
	for i, p := range points {
		entries[i] = morton.Entry{Key: curve.Key(p), Index: uint32(i)}
	}
	order := make([]uint32, len(points))
	for i, e := range morton.Sort(entries, 1) {
		order[i] = e.Index
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
