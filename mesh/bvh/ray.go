package bvh

import (
	"math"
	"math/bits"

	"shutline/mesh/geom"
)

// Ray returns the first face that origin + s*dir meets for s above 0 and up to
// within (which may be infinite), from either side, and s. Of faces met at the
// same s the lowest is returned. Faces seen edge-on are not met.
//
// Based on: Möller & Trumbore (1997) for the triangles.
func (t *Tree) Ray(origin, dir geom.Vec, within float64) (at float64, face uint32, ok bool) {
	if !origin.IsFinite() || !dir.IsFinite() || dir == (geom.Vec{}) || !(within > 0) {
		return 0, 0, false
	}
	o := origin.Sub(t.origin)
	w := ray{o: [3]float64{o.X, o.Y, o.Z}, inv: [3]float64{1 / dir.X, 1 / dir.Y, 1 / dir.Z}, grain: t.grain, best: within}
	var stack [stackSize]ref
	stack[0] = t.root
	top := 1
	for top > 0 {
		top--
		r := stack[top]
		if !r.leaf() {
			top = w.push(&stack, top, &t.nodes[r])
			continue
		}
		for _, f := range t.leaves[r.index()].face {
			if f == noFace {
				break
			}
			f &^= unsure
			a, b, c := t.mesh.Corners(f)
			s, hit := meet(origin, dir, a, b, c)
			if hit && (s < w.best || s == w.best && (!ok || f < face)) {
				w.best, face, ok = s, f, true
			}
		}
	}
	if !ok {
		return 0, 0, false
	}
	return w.best, face, true
}

type ray struct {
	o, inv [3]float64
	grain  float64
	best   float64
}

// boxMargin widens the slab test by what its float64 arithmetic may be wrong by (Ize 2013: 2 ulp; taken ample).
const boxMargin = 1e-12

// push puts the children that the ray meets on the stack, the first one met on top.
func (w *ray) push(stack *[stackSize]ref, top int, n *wide) int {
	var at [width]float64
	bottom := top
	for mask := n.used; mask != 0; mask &= mask - 1 {
		k := bits.TrailingZeros32(mask) & (width - 1)
		e := w.enter(n, k)
		if !(e <= w.best) || math.IsInf(e, 1) {
			continue
		}
		i := top - bottom
		for ; i > 0 && at[i-1] < e; i-- {
			at[i], stack[bottom+i] = at[i-1], stack[bottom+i-1]
		}
		at[i], stack[bottom+i] = e, n.to[k]
		top++
	}
	return top
}

// enter returns where the ray enters a child's box, or +Inf when it misses it.
func (w *ray) enter(n *wide, i int) float64 {
	in, out := 0.0, w.best
	for k := range 3 {
		lo, hi := float64(n.lo[k][i])-w.o[k]-w.grain, float64(n.hi[k][i])-w.o[k]+w.grain
		if math.IsInf(w.inv[k], 0) { // along the sides: in between or never
			if lo > 0 || hi < 0 {
				return math.Inf(1)
			}
			continue
		}
		s0, s1 := lo*w.inv[k], hi*w.inv[k]
		if s0 > s1 {
			s0, s1 = s1, s0
		}
		in, out = max(in, s0), min(out, s1)
	}
	if in*(1-boxMargin) > out*(1+boxMargin) {
		return math.Inf(1)
	}
	return in * (1 - boxMargin)
}

func meet(o, d, a, b, c geom.Vec) (float64, bool) {
	ab, ac := b.Sub(a), c.Sub(a)
	h := d.Cross(ac)
	det := ab.Dot(h)
	if det == 0 {
		return 0, false
	}
	ao := o.Sub(a)
	u := ao.Dot(h) / det
	if !(u >= 0 && u <= 1) {
		return 0, false
	}
	q := ao.Cross(ab)
	v := d.Dot(q) / det
	if !(v >= 0 && u+v <= 1) {
		return 0, false
	}
	s := ac.Dot(q) / det
	return s, s > 0 && isSound(ao.AddScaled(s, d), ao, d, ab, ac, det)
}

const (
	// edgeOn is the share of the product of its factors' lengths up to which a determinant may
	// be made of roundings (some 6 ulps of float64, taken ample): the face has no
	// width, or the ray runs along it.
	edgeOn = 1e-13
	// hitMargin is how far outside its face's box a point that was met may seem, relative to the
	// lengths it was computed from: where more is lost, the ray runs along the face too.
	hitMargin = 1e-9
)

// isSound reports whether a point that was met, relative to the triangle's first corner as
// everything here, is more than what roundings made of a triangle seen edge-on.
func isSound(at, ao, d, ab, ac geom.Vec, det float64) bool {
	size := ab.Norm() * ac.Norm() * d.Norm()
	if !(math.Abs(det) > edgeOn*size) {
		return false
	}
	return geom.BoxOf([]geom.Vec{{}, ab, ac}).Grow(float64(hitMargin * (ao.Norm() + ab.Norm() + ac.Norm()))).Contains(at)
}
