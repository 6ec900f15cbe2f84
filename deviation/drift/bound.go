package drift

import (
	"math"

	"shutline/mesh/geom"
)

// Bound returns the least standard deviation in mm of the size of each shape that any estimate can have that is right
// on average but for what is known beforehand (Cramér 1946, Rao 1945, with a normal prior: van Trees 1968): of points on the skin
// with their unit normals, in the reference's frame, whose deviations err each by its own variance, mm², beside all motions and
// all other shapes. A variance that is not positive leaves the point out; a shape that moves nothing has what is known beforehand.
func Bound(f *Frame, points, normals []geom.Vec, variances []float64) (sd [Kinds]float64) {
	var a square
	for i, v := range variances {
		if !(v > 0) {
			continue
		}
		n := normals[i]
		j := f.rowAt(f.local(points[i]), geom.Vec{X: n.Dot(f.Axes[0]), Y: n.Dot(f.Axes[1]), Z: n.Dot(f.Axes[2])})
		addOuter(&a, 1/v, &j)
	}
	known := f.likely()
	for m := range columns {
		a[m][m] += 1 / float64(known[m]*known[m])
	}
	l, ok := factor(&a)
	if !ok {
		copy(sd[:], known[:Kinds])
		return sd
	}
	inv := inverse(&l)
	for k := range Kinds {
		sd[k] = math.Sqrt(inv[k][k])
	}
	return sd
}
