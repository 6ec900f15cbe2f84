package shade

import "math"

// clipCorner is a corner of a polygon on its way through the clip: pixel
// coordinates in subpixels, then depth, front light, back light, scalar code.
type clipCorner [6]float64

// clipMargin, in subpixels, is how far outside the picture the clip cuts: far
// enough that snapping a cut corner moves no visible edge by a subpixel.
const clipMargin = 1 << 16 * sub

// corner carries a place on the grid into the picture.
func (f *frame) corner(p [3]float64, normal *[3]int8, code uint16) clipCorner {
	along := func(a *[4]float64) float64 {
		return float64(a[0]*p[0]) + float64(a[1]*p[1]) + float64(a[2]*p[2]) + a[3]
	}
	front, back := f.lit(normal)
	return clipCorner{along(&f.x), along(&f.y), along(&f.z), front, back, float64(code)}
}

// code returns the scalar code of a vertex.
func (f *frame) code(vertex uint32) uint16 {
	if f.paint == nil {
		return bareCode
	}
	return f.paint.level[vertex]
}

// placeOf returns a vertex's place on the grid.
func (m *Model) placeOf(c *cluster, i uint32) [3]float64 {
	p := &m.position[i]
	return [3]float64{float64(c.base[0]) + float64(p[0]), float64(c.base[1]) + float64(p[1]), float64(c.base[2]) + float64(p[2])}
}

// drawClipped draws a cluster that reaches beyond the guard.
func (f *frame) drawClipped(m *Model, c *cluster, to *canvas) {
	all := make([]clipCorner, c.vertices)
	for i := range all {
		at := c.vertex + uint32(i)
		all[i] = f.corner(m.placeOf(c, at), &m.normal[at], f.code(at))
	}
	for _, t := range m.corner[c.face : c.face+uint32(c.size)] {
		f.clipTriangle([]clipCorner{all[t[0]], all[t[1]], all[t[2]]}, to)
	}
}

// drawWide draws a face that is too large for a cluster.
func (f *frame) drawWide(m *Model, i int, to *canvas) {
	to.marks.all()
	w := &m.wide[i]
	codes := [3]uint16{bareCode, bareCode, bareCode}
	if f.paint != nil {
		codes = f.paint.wide[i]
	}
	polygon := make([]clipCorner, 3)
	for k := range polygon {
		polygon[k] = f.corner(w.corner[k], &w.normal[k], codes[k])
	}
	f.clipTriangle(polygon, to)
}

// clipTriangle cuts a triangle at a box about the picture (Sutherland & Hodgman 1974) and draws it as a fan.
func (f *frame) clipTriangle(polygon []clipCorner, to *canvas) {
	if min(polygon[0][5], polygon[1][5], polygon[2][5]) == unknownCode {
		for i := range polygon {
			polygon[i][5] = unknownCode
		}
	}
	for axis, size := range []int{f.w, f.h} {
		polygon = clip(polygon, axis, 1, -clipMargin)
		polygon = clip(polygon, axis, -1, -float64(size*sub)-clipMargin)
	}
	for i := 2; i < len(polygon); i++ {
		for k, p := range []clipCorner{polygon[0], polygon[i-1], polygon[i]} {
			to.x[k], to.y[k], to.z[k] = int64(math.Floor(p[0]+0.5)), int64(math.Floor(p[1]+0.5)), math.Floor(p[2])
			to.light[outer][k], to.light[inner][k], to.code[k] = p[3], p[4], p[5]
		}
		f.triangle(to, [3]uint8{0, 1, 2})
	}
}

// clip keeps the part of a polygon where sign*coordinate >= limit.
func clip(polygon []clipCorner, axis int, sign, limit float64) []clipCorner {
	inside := true
	for i := range polygon {
		inside = inside && float64(sign*polygon[i][axis]) >= limit
	}
	if inside {
		return polygon
	}
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
