package bvh

import "math"

func everywhere() (lo, hi [3]float32) {
	inf := float32(math.Inf(1))
	return [3]float32{-inf, -inf, -inf}, [3]float32{inf, inf, inf}
}

// setAlone gives a child that is a node the box in which nothing lies that is not below it: its
// parent's, cut back from every sibling's box on the side where least of the child is
// lost. A search that ends inside it need not go up any further. Most do so after a few
// levels, as siblings overlap by little more than a triangle.
func (t *Tree) setAlone(n *wide, child int) {
	a := n.alone
	for other := range width {
		if other == child || n.used>>other&1 == 0 {
			continue
		}
		best, axis, high := float32(math.Inf(-1)), 0, false
		for k := range 3 {
			size := max(n.hi[k][child]-n.lo[k][child], math.SmallestNonzeroFloat32)
			if left := (n.lo[k][other] - n.lo[k][child]) / size; left > best {
				best, axis, high = left, k, true
			}
			if left := (n.hi[k][child] - n.hi[k][other]) / size; left > best {
				best, axis, high = left, k, false
			}
		}
		if high {
			a.hi[axis] = min(a.hi[axis], n.lo[axis][other])
		} else {
			a.lo[axis] = max(a.lo[axis], n.hi[axis][other])
		}
	}
	t.nodes[n.to[child]].alone = a
}

// holds reports whether a box lies inside the node's own.
func (w *wide) holds(lo, hi *[3]float32) bool {
	a := &w.alone
	return lo[0] > a.lo[0] && hi[0] < a.hi[0] && lo[2] > a.lo[2] && hi[2] < a.hi[2] && lo[1] > a.lo[1] && hi[1] < a.hi[1]
}
