package inspection

import (
	"math"

	"shutline/mesh/geom"
)

// squareWithin is how far R Rᵀ may be from the unit matrix, entry by entry: a
// matrix written with six decimals (each off by up to 5e-7) is off by at most
// 2·√3·5e-7 = 1.8e-6, which is 4 µm over a part of 4 m.
const squareWithin = 2e-6

// rigid reads a 4 by 4 matrix that must be a rigid motion, mm.
func (r *reader) rigid(path string, v any) geom.Rigid {
	x, ok := r.numbers(path, v, 16)
	if !ok {
		return geom.Identity()
	}
	var g geom.Rigid
	for row := range 3 {
		for col := range 3 {
			g.R[row][col] = x[4*row+col]
		}
	}
	g.T = geom.Vec{X: x[3], Y: x[7], Z: x[11]}
	if x[12] != 0 || x[13] != 0 || x[14] != 0 || x[15] != 1 {
		r.fail(indexed(path, 12), "the last row must be 0, 0, 0, 1, not %v, %v, %v, %v; write the matrix row by row", x[12], x[13], x[14], x[15])
		return g
	}
	off := 0.0
	rrt, unit := g.R.Mul(g.R.Transpose()), geom.Identity3()
	for row := range 3 {
		for col := range 3 {
			off = max(off, math.Abs(rrt[row][col]-unit[row][col]))
		}
	}
	det := g.R.Det()
	switch {
	case !(off <= squareWithin):
		r.fail(path, "not a rigid motion: orthogonality fails: the largest entry of R·Rᵀ − 1 is %.3g (allowed: %g), det = %.6f; scale and shear are never applied", off, squareWithin, det)
	case det < 0:
		r.fail(path, "not a rigid motion: the determinant is %.6f, which mirrors the scan; it must be +1 (use reference.mirror to mirror)", det)
	case max(math.Abs(g.T.X), math.Abs(g.T.Y), math.Abs(g.T.Z)) > farthest:
		r.fail(path, "moves the scan by more than %g mm", farthest)
	}
	return g
}
