package shade

import "math"

// clipCorner is a corner of a polygon on its way through the clip: pixel
// coordinates in subpixels, then depth, front light, back light, scalar code.
type clipCorner [6]float64

// clipMargin, in subpixels, is how far outside the picture the clip cuts: far
// enough that snapping a cut corner moves no visible edge by a subpixel.
const clipMargin = 1 << 16 * sub

// drawClipped draws a cluster that reaches beyond the guard: every triangle is
// cut at a box about the picture (Sutherland & Hodgman 1974) and drawn as a fan.
func (f *frame) drawClipped(m *Model, c *cluster, to *canvas) {
	all := make([]clipCorner, c.vertices)
	for i := range all {
		at := int(c.vertex) + i
		p := &m.position[at]
		front, back := f.light(&m.normal[at])
		all[i] = clipCorner{along(&f.x, p), along(&f.y, p), along(&f.z, p), front, back, bareCode}
		if f.paint != nil {
			all[i][5] = float64(f.paint.level[at])
		}
	}
	for _, t := range m.corner[c.face : c.face+uint32(c.size)] {
		polygon := []clipCorner{all[t[0]], all[t[1]], all[t[2]]}
		if polygon[0][5]+polygon[1][5]+polygon[2][5] < unknownLevel/2 {
			for i := range polygon {
				polygon[i][5] = unknownLevel
			}
		}
		for axis, size := range []int{f.w, f.h} {
			polygon = clip(polygon, axis, 1, -clipMargin)
			polygon = clip(polygon, axis, -1, -float64(size*sub)-clipMargin)
		}
		for i := 2; i < len(polygon); i++ {
			for k, p := range []clipCorner{polygon[0], polygon[i-1], polygon[i]} {
				to.x[k], to.y[k], to.z[k] = snap(p[0]), snap(p[1]), p[2]
				to.front[k], to.back[k], to.code[k] = p[3], p[4], p[5]
			}
			f.triangle(to, [3]uint8{0, 1, 2})
		}
	}
}

// clip keeps the part of a polygon where sign*coordinate >= limit.
func clip(polygon []clipCorner, axis int, sign, limit float64) []clipCorner {
	var out []clipCorner
	for i, p := range polygon {
		q := polygon[(i+1)%len(polygon)]
		dp, dq := float64(sign*p[axis])-limit, float64(sign*q[axis])-limit
		if dp >= 0 {
			out = append(out, p)
		}
		if math.Signbit(dp) != math.Signbit(dq) {
			share := dp / (dp - dq)
			for k := range p {
				p[k] += float64(share * (q[k] - p[k]))
			}
			out = append(out, p)
		}
	}
	return out
}
