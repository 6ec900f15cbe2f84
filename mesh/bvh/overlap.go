package bvh

import "shutline/mesh/geom"

// FacesIn calls visit for every face whose own box overlaps the given box, in
// an order that depends on the mesh alone.
func (t *Tree) FacesIn(b geom.Box, visit func(face uint32)) {
	if b.Empty() {
		return
	}
	lo, hi := b.Lo.Sub(t.origin), b.Hi.Sub(t.origin)
	// One float64 rounding of the shift is covered by rounding outward to float32 unless it
	// is exact there, hence the exact test on the triangles themselves.
	ask := box{[3]float32{below(lo.X), below(lo.Y), below(lo.Z)}, [3]float32{above(hi.X), above(hi.Y), above(hi.Z)}}
	var stack [maxDepth]ref
	stack[0] = t.root
	top := 1
	for top > 0 {
		top--
		r := stack[top]
		if r&leafBit == 0 {
			n := &t.nodes[r]
			for side := 1; side >= 0; side-- {
				if n.child[side].overlaps(&ask) {
					stack[top] = n.to[side]
					top++
				}
			}
			continue
		}
		start, end := r.run()
		for i := start; i < end; i++ {
			c := &t.tri[i]
			own := geom.Box{
				Lo: geom.Vec{X: min(c.a.X, c.b.X, c.c.X), Y: min(c.a.Y, c.b.Y, c.c.Y), Z: min(c.a.Z, c.b.Z, c.c.Z)},
				Hi: geom.Vec{X: max(c.a.X, c.b.X, c.c.X), Y: max(c.a.Y, c.b.Y, c.c.Y), Z: max(c.a.Z, c.b.Z, c.c.Z)},
			}
			if own.Overlaps(b) {
				visit(t.face[i])
			}
		}
	}
}
