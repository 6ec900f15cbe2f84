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
	// opposedLess is the share of a panel's faces, at most, that look another way than the panel does.
	opposedLess = 0.1
	// opposedFrom is from how far beside the path on, mm, they are looked at: nearer to it lie hems' returns.
	opposedFrom = 15.0
	// parallelTo is the cosine of 30°: faces that lean more are an edge's.
	parallelTo = 0.87
	// awayFrom is the cosine of 72°, by which the outside of a body looks at least away from its middle where that
	// tells it: of a panel that was scanned alone it hardly does.
	awayFrom = 0.3
)

// eitherWay returns the direction that the faces about p lie square to, whichever way they look, and leaves them in w.
func (o *patch) eitherWay(p geom.Vec, w *worker) (axis geom.Vec) {
	o.outwardWithin(p, outwardReach, w)
	most := 0.0
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
	return axis
}

// opposed reports whether nearly all faces on one side of the path look one way and nearly all on the other the other way: one of two
// panels was turned round, or is seen from within.
func (o *patch) opposed(p, f geom.Vec, w *worker) bool {
	axis := o.eitherWay(p, w)
	across := f.Cross(axis).Unit()
	o.outwardWithin(p, 2*outwardReach, w)
	var area [2][2]float64 // of faces on either side, along the axis and against it
	for i := range w.near {
		t := &w.near[i]
		d := t.at.Dot(across)
		if cos := t.n.Dot(axis); math.Abs(t.at.Dot(axis)) <= 2*outwardHeight && math.Abs(cos) > parallelTo*t.area && math.Abs(d) > opposedFrom {
			side, way := 0, 0
			if d < 0 {
				side = 1
			}
			if cos < 0 {
				way = 1
			}
			area[side][way] += t.area
		}
	}
	for way := range 2 {
		if a, b := area[0][way], area[1][1-way]; a > 0 && b > 0 && area[0][1-way] < opposedLess*a && area[1][way] < opposedLess*b {
			return true
		}
	}
	return false
}

// bothWays returns the outward direction at p where a sheet was scanned from both sides, so that their normals leave
// no mean: of its two sides the one that looks as the reference does, as hint says where that is not zero, else the one
// that reaches farther toward the gap along f, else the one that looks away from the middle of the body. ok is false where none of
// these tells it.
func (o *patch) bothWays(p, f, hint geom.Vec, w *worker) (dir geom.Vec, ok bool) {
	axis := o.eitherWay(p, w)
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
