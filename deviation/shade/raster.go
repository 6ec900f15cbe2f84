package shade

import (
	"math"

	"shutline/mesh/geom"
)

// A word per pixel: depth in the upper 32 bits so that the larger word is the
// nearer one, then 16 bits of scalar code, 6 of model and 10 of light.
const (
	lightBits  = 10
	lightMask  = 1<<lightBits - 1
	lightUnit  = 800 // the light that leaves a colour as it is; above it highlights
	modelMask  = 63
	maxModels  = modelMask + 1
	codeShift  = 16
	depthShift = 32
)

// Corners are snapped to 1/256 pixel, so that edge functions are exact integers
// and neighbouring triangles leave no hole between them.
const (
	subBits = 8
	sub     = 1 << subBits
)

// guard, in pixels, is how far outside the picture a corner may lie before the
// triangle is clipped: products of edge functions then stay under 2^60.
const guard = 1 << 20

// Depths are spread over this range, leaving 0 for "nothing drawn".
const depthRange = 1<<32 - 1024

// frame is what all workers need to draw one model into a picture.
type frame struct {
	w, h      int
	x, y, z   [4]float64 // pixel (and depth) from position: three factors and an offset
	key, fill geom.Vec   // directions to the lights, in the reference's frame
	modelBits uint64
	paint     *paint
	dot       int // half the width of a point, in samples
}

// canvas is a worker's own picture and its scratch memory for a cluster.
type canvas struct {
	words             []uint64
	x, y              [clusterMax]int64
	z                 [clusterMax]float64
	front, back, code [clusterMax]float64
}

// newFrame sets up the projection; depths from near to far fill the depth range.
func newFrame(c Camera, w, h int, m *Model, index int, far, near float64) *frame {
	f := &frame{w: w, h: h, modelBits: uint64(index) << lightBits, paint: m.paint.Load()}
	back := c.Back()
	s := float64(h) / c.Height
	o := m.origin.Sub(c.Target)
	set := func(axis *[4]float64, d geom.Vec, scale, shift float64) {
		*axis = [4]float64{scale * d.X, scale * d.Y, scale * d.Z, float64(scale*o.Dot(d)) + shift}
	}
	// Half a subpixel makes truncation round; the guard keeps it positive.
	set(&f.x, c.Right, s*sub, float64(float64(w)/2*sub))
	set(&f.y, c.Up, -s*sub, float64(float64(h)/2*sub))
	k := depthRange / max(near-far, 1e-9)
	set(&f.z, back, k, 1-float64(k*far))
	f.key = c.Right.Scale(-0.25).AddScaled(0.55, c.Up).AddScaled(0.80, back).Unit()
	f.fill = c.Right.Scale(0.75).AddScaled(-0.10, c.Up).AddScaled(0.65, back).Unit()
	return f
}

// draw draws a cluster, unless it lies outside the picture.
func (f *frame) draw(m *Model, c *cluster, to *canvas) {
	x, rx := span(&f.x, c)
	y, ry := span(&f.y, c)
	if x+rx < 0 || y+ry < 0 || x-rx > float64(f.w*sub) || y-ry > float64(f.h*sub) {
		return
	}
	if len(m.corner) == 0 {
		f.points(m, c, to)
		return
	}
	if max(math.Abs(x)+rx, math.Abs(y)+ry) > (guard-1)*sub {
		f.drawClipped(m, c, to)
		return
	}
	f.project(m, c, to)
	for _, t := range m.corner[c.face : c.face+uint32(c.size)] {
		f.triangle(to, t)
	}
}

// span returns the middle and the half width of a cluster's box along an axis.
func span(a *[4]float64, c *cluster) (mid, half float64) {
	mid = a[3]
	for k := range 3 {
		mid += float64(a[k] * float64(c.centre[k]))
		half += float64(math.Abs(a[k]) * float64(c.half[k]))
	}
	return mid, half
}

// along applies an axis to a position.
func along(a *[4]float64, p *[3]float32) float64 {
	return float64(a[0]*float64(p[0])) + float64(a[1]*float64(p[1])) + float64(a[2]*float64(p[2])) + a[3]
}

// snap rounds to the nearest subpixel; v is within the guard.
func snap(v float64) int64 { return int64(v+(guard*sub+0.5)) - guard*sub }

// project carries the cluster's vertices into the picture and lights them.
func (f *frame) project(m *Model, c *cluster, to *canvas) {
	from, n := int(c.vertex), int(c.vertices)
	position, normal := m.position[from:from+n], m.normal[from:from+n]
	for i := range position {
		p := &position[i]
		to.x[i&0xff] = snap(along(&f.x, p))
		to.y[i&0xff] = snap(along(&f.y, p))
		to.z[i&0xff] = along(&f.z, p)
		to.front[i&0xff], to.back[i&0xff] = f.light(&normal[i])
	}
	if f.paint == nil {
		for i := range n {
			to.code[i&0xff] = bareCode
		}
		return
	}
	for i, l := range f.paint.level[from : from+n] {
		to.code[i&0xff] = float64(l)
	}
}

// The lights: what every point gets, what the two lamps add square on, and what
// is left of all that on an inner side. A face square to the view gets 0.96 of
// its plain colour; one seen edge-on keeps at least 0.44, so that its colour can still be named.
const (
	ambientLight = 0.44
	keyLight     = 0.45
	fillLight    = 0.25
	innerShare   = 0.72
)

// light returns the light on the outer and on the inner side at a normal.
func (f *frame) light(n *[3]int8) (front, back float64) {
	x, y, z := float64(n[0]), float64(n[1]), float64(n[2])
	k := (float64(f.key.X*x) + float64(f.key.Y*y) + float64(f.key.Z*z)) * (keyLight / 127 * lightUnit)
	l := (float64(f.fill.X*x) + float64(f.fill.Y*y) + float64(f.fill.Z*z)) * (fillLight / 127 * lightUnit)
	front = ambientLight*lightUnit + max(k, 0) + max(l, 0)
	back = (ambientLight*lightUnit + max(-k, 0) + max(-l, 0)) * innerShare
	return front, back
}

// triangle draws one triangle of the projected cluster. It covers the pixels
// whose middle it holds, its border included.
func (f *frame) triangle(to *canvas, t [3]uint8) {
	a, b, c := t[0], t[1], t[2]
	x0, y0, x1, y1, x2, y2 := to.x[a], to.y[a], to.x[b], to.y[b], to.x[c], to.y[c]
	left, right := (min(x0, x1, x2)+sub/2-1)>>subBits, (max(x0, x1, x2)-sub/2)>>subBits
	top, bottom := (min(y0, y1, y2)+sub/2-1)>>subBits, (max(y0, y1, y2)-sub/2)>>subBits
	left, top = max(left, 0), max(top, 0)
	right, bottom = min(right, int64(f.w-1)), min(bottom, int64(f.h-1))
	if left > right || top > bottom {
		return
	}
	area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
	light := &to.back
	if area < 0 { // y points down: the outer side turns the other way
		b, c = c, b
		x1, y1, x2, y2 = x2, y2, x1, y1
		area, light = -area, &to.front
	}
	if area == 0 {
		return
	}
	px, py := left<<subBits+sub/2, top<<subBits+sub/2
	e := edges{
		w0: (x2-x1)*(py-y1) - (y2-y1)*(px-x1), dx0: (y1 - y2) << subBits, dy0: (x2 - x1) << subBits,
		w1: (x0-x2)*(py-y2) - (y0-y2)*(px-x2), dx1: (y2 - y0) << subBits, dy1: (x0 - x2) << subBits,
		w2: (x1-x0)*(py-y0) - (y1-y0)*(px-x0), dx2: (y0 - y1) << subBits, dy2: (x1 - x0) << subBits,
	}
	r := 1 / float64(area)
	v := varying{
		z: to.z[a], z1: (to.z[b] - to.z[a]) * r, z2: (to.z[c] - to.z[a]) * r,
		l: light[a], l1: (light[b] - light[a]) * r, l2: (light[c] - light[a]) * r,
		s: to.code[a], s1: (to.code[b] - to.code[a]) * r, s2: (to.code[c] - to.code[a]) * r,
	}
	if to.code[a]+to.code[b]+to.code[c] < unknownLevel/2 {
		v.s, v.s1, v.s2 = unknownCode, 0, 0
	} else if f.paint != nil {
		v.lowest = firstCode
	}
	for y := top; y <= bottom; y++ {
		row := to.words[int(y)*f.w+int(left) : int(y)*f.w+int(right)+1]
		fillRow(row, e, &v, f.modelBits)
		e.w0, e.w1, e.w2 = e.w0+e.dy0, e.w1+e.dy1, e.w2+e.dy2
	}
}

// edges are the edge functions at a pixel's middle with their steps.
type edges struct {
	w0, w1, w2    int64
	dx0, dx1, dx2 int64
	dy0, dy1, dy2 int64
}

// varying holds what runs over a triangle: depth, light and scalar code, each
// as its value at the first corner and its growth along the other two edge functions.
type varying struct {
	z, z1, z2 float64
	l, l1, l2 float64
	s, s1, s2 float64
	lowest    float64 // code that known scalars are clamped to
}

// fillRow draws the pixels of a row that lie in the triangle.
func fillRow(row []uint64, e edges, v *varying, bits uint64) {
	inside := false
	for i := range row {
		if e.w0|e.w1|e.w2 >= 0 {
			inside = true
			w1, w2 := float64(e.w1), float64(e.w2)
			depth := v.z + float64(v.z1*w1) + float64(v.z2*w2)
			word := uint64(int64(depth)) << depthShift
			if word|(1<<depthShift-1) >= row[i] {
				light := v.l + float64(v.l1*w1) + float64(v.l2*w2)
				code := v.s + float64(v.s1*w1) + float64(v.s2*w2)
				code = max(v.lowest, min(code+0.5, lastCode))
				word |= uint64(int64(code))<<codeShift | bits | uint64(min(int64(light), lightMask))
				row[i] = max(row[i], word)
			}
		} else if inside {
			return
		}
		e.w0, e.w1, e.w2 = e.w0+e.dx0, e.w1+e.dx1, e.w2+e.dx2
	}
}
