package bvh

import (
	"math/bits"

	"shutline/mesh/geom"
)

// FacesIn calls visit for every face whose own box overlaps the given box, in
// an order that depends on the mesh alone.
func (t *Tree) FacesIn(b geom.Box, visit func(face uint32)) {
	if b.Empty() {
		return
	}
	lo, hi := b.Lo.Sub(t.origin), b.Hi.Sub(t.origin)
	// The shift and the rounding are covered by going one step outward; what is
	// left out wrongly by neither is tested on the triangles themselves.
	from := [3]float32{below(lo.X - t.grain), below(lo.Y - t.grain), below(lo.Z - t.grain)}
	to := [3]float32{-below(-hi.X - t.grain), -below(-hi.Y - t.grain), -below(-hi.Z - t.grain)}
	var stack [stackSize]ref
	stack[0] = t.root
	top := 1
	for top > 0 {
		top--
		r := stack[top]
		if !r.leaf() {
			n := &t.nodes[r]
			for mask := n.overlaps(&from, &to); mask != 0; {
				k := bits.Len32(mask) - 1
				mask &^= 1 << k
				stack[top] = n.to[k]
				top++
			}
			continue
		}
		for _, face := range t.leaves[r.index()].face {
			if face == noFace {
				break
			}
			face &^= unsure
			p, q, s := t.mesh.Corners(face)
			own := geom.Box{
				Lo: geom.Vec{X: min(p.X, q.X, s.X), Y: min(p.Y, q.Y, s.Y), Z: min(p.Z, q.Z, s.Z)},
				Hi: geom.Vec{X: max(p.X, q.X, s.X), Y: max(p.Y, q.Y, s.Y), Z: max(p.Z, q.Z, s.Z)},
			}
			if own.Overlaps(b) {
				visit(face)
			}
		}
	}
}

// overlaps returns the mask of the children whose boxes overlap the given one.
func (w *wide) overlaps(lo, hi *[3]float32) uint32 {
	mask := w.used
	for k := range 3 {
		for i := range width {
			if w.lo[k][i] > hi[k] || lo[k] > w.hi[k][i] {
				mask &^= 1 << i
			}
		}
	}
	return mask
}
