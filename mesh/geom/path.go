package geom

import "math"

// NearestOnPath returns how far along a path, from its start, the place nearest to p lies, and how far p is from
// it, both in the path's unit. Of places equally near the first is taken; from a path of fewer than two points
// everything is infinitely far.
func NearestOnPath(p Vec, path []Vec) (along, far float64) {
	far = math.Inf(1)
	passed := 0.0
	for k := 1; k < len(path); k++ {
		d := path[k].Sub(path[k-1])
		t := 0.0
		if n := d.Norm2(); n > 0 {
			t = min(1, max(0, p.Sub(path[k-1]).Dot(d)/n))
		}
		long := d.Norm()
		if f := p.Dist(path[k-1].Lerp(path[k], t)); f < far {
			along, far = passed+float64(t*long), f
		}
		passed += long
	}
	return along, far
}
