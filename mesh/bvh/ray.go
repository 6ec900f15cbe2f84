package bvh

import (
	"math"

	"shutline/mesh/geom"
)

// Ray returns the first face that origin + s*dir meets for s > 0, from either
// side, and s. Of faces met at the same s the lowest is returned.
//
// Based on: Möller & Trumbore (1997) for the triangles.
func (t *Tree) Ray(origin, dir geom.Vec) (at float64, face uint32, ok bool) {
	if !origin.IsFinite() || !dir.IsFinite() || dir == (geom.Vec{}) {
		return 0, 0, false
	}
	o := origin.Sub(t.origin)
	w := ray{o: [3]float64{o.X, o.Y, o.Z}, inv: [3]float64{1 / dir.X, 1 / dir.Y, 1 / dir.Z}, grain: t.grain, best: math.Inf(1)}
	var stack [maxDepth]ref
	stack[0] = t.root
	top := 1
	for top > 0 {
		top--
		r := stack[top]
		if r&leafBit == 0 {
			n := &t.nodes[r]
			e0, e1 := w.enter(&n.child[0]), w.enter(&n.child[1])
			near := 0
			if e1 < e0 {
				near, e0, e1 = 1, e1, e0
			}
			if e1 <= w.best {
				stack[top] = n.to[near^1]
				top++
			}
			if e0 <= w.best {
				stack[top] = n.to[near]
				top++
			}
			continue
		}
		start, end := r.run()
		for i := start; i < end; i++ {
			s, hit := meet(origin, dir, &t.tri[i])
			if f := t.face[i]; hit && (s < w.best || s == w.best && f < face) {
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

// enter returns where the ray enters the box, or +Inf when it misses it.
func (w *ray) enter(b *box) float64 {
	in, out := 0.0, w.best
	for k := range 3 {
		s0, s1 := (float64(b.lo[k])-w.o[k])*w.inv[k], (float64(b.hi[k])-w.o[k])*w.inv[k]
		if s0 > s1 {
			s0, s1 = s1, s0
		}
		wide := w.grain * math.Abs(w.inv[k])
		s0, s1 = s0-wide, s1+wide
		// A ray in the box's side plane gives 0*Inf = NaN, which must not leave the box out.
		if s0 > in {
			in = s0
		}
		if s1 < out {
			out = s1
		}
	}
	if in*(1-boxMargin) > out*(1+boxMargin) {
		return math.Inf(1)
	}
	return in * (1 - boxMargin)
}

func meet(o, d geom.Vec, t *triangle) (float64, bool) {
	ab, ac := t.b.Sub(t.a), t.c.Sub(t.a)
	h := d.Cross(ac)
	det := ab.Dot(h)
	if det == 0 {
		return 0, false
	}
	ao := o.Sub(t.a)
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
	return s, s > 0
}
