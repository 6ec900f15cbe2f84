package gapflush

import (
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/order"
)

const (
	// bothLeast is the least share of the faces that look either way where a sheet was scanned from both sides.
	bothLeast = 0.1
	// reachesBy is by how much, mm, both edges of the outer skin together reach farther toward the gap than those of what
	// lies behind it: a roll does so by half its radius, and an inner sheet begins behind it.
	reachesBy = 1.2
	// reachesFrom is the share of a skin's area, nearest the gap, that is not its edge but crumbs.
	reachesFrom = 0.002
	// parallelTo is the cosine of 30°: faces that lean more are an edge's.
	parallelTo = 0.87
	// awayFrom is the cosine of 72°, by which the outside of a body looks at least away from its middle where that
	// tells it: of a panel that was scanned alone it hardly does.
	awayFrom = 0.3
)

// bothWays returns the outward direction at p where a sheet was scanned from both sides, so that their normals leave
// no mean: of its two sides the one that looks as the reference does, as hint says where that is not zero, else the one
// that reaches farther toward the gap along f, else the one that looks away from the middle of the body. ok is false where none of
// these tells it.
func (o *patch) bothWays(p, f, hint geom.Vec, w *worker) (dir geom.Vec, ok bool) {
	o.outwardWithin(p, outwardReach, w)
	axis, most := geom.Vec{}, 0.0
	for i := range w.near {
		if w.near[i].area > most {
			axis, most = w.near[i].n.Unit(), w.near[i].area
		}
	}
	for range 3 {
		sum := geom.Vec{}
		for i := range w.near {
			if n := w.near[i].n; math.Abs(w.near[i].at.Dot(axis)) <= outwardHeight {
				sum = sum.AddScaled(math.Copysign(1, n.Dot(axis)), n)
			}
		}
		axis = sum.Unit()
	}
	var area, height [2]float64 // of faces that look along the axis, and against it
	var reach [2][2][]float64   // mm from the path, on either side of it
	across := f.Cross(axis).Unit()
	for i := range w.near {
		t := &w.near[i]
		h := t.at.Dot(axis)
		if cos := t.n.Dot(axis); math.Abs(h) <= outwardHeight && math.Abs(cos) > parallelTo*t.area {
			k, side, d := 0, 0, t.at.Dot(across)
			if cos < 0 {
				k = 1
			}
			if d < 0 {
				side = 1
			}
			area[k] += t.area
			height[k] += float64(h * t.area)
			reach[k][side] = append(reach[k][side], math.Abs(d))
		}
	}
	if all := area[0] + area[1]; min(area[0], area[1]) < bothLeast*all || all == 0 {
		return dir, false
	}
	shorter, known := 0.0, true // by how much what looks against the axis reaches less
	for side := range 2 {
		var d [2]float64
		for k := range d {
			v := reach[k][side]
			if known = known && len(v) > 0; known {
				d[k] = order.Nth(v, int(reachesFrom*float64(len(v))))
			}
		}
		shorter += d[1] - d[0]
	}
	along, against := height[0]/area[0], height[1]/area[1]
	cos := hint.Unit().Dot(axis)
	if hint == (geom.Vec{}) {
		cos = 0
		if away := p.Sub(o.middle()); away.Norm() > 0 {
			cos = away.Unit().Dot(axis)
		}
	}
	switch {
	case along <= against: // they look at each other: two sheets
		return dir, false
	case hint != (geom.Vec{}):
		return axis.Scale(math.Copysign(1, cos)), math.Abs(cos) > parallelTo
	case known && math.Abs(shorter) > reachesBy:
		return axis.Scale(math.Copysign(1, shorter)), true
	}
	return axis.Scale(math.Copysign(1, cos)), math.Abs(cos) > awayFrom
}
