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

// Positions are carried into the picture in whole numbers: factors are per step of the grid, times
// 2^placeBits (2^depthBits for depth). Sums may overflow on the way; the result is exact where it
// fits, and it does within the guard.
const (
	placeBits = 32
	depthBits = 24
	// placeMost bounds factors before rounding, so that they fit; a model whose factors are larger is clipped.
	placeMost = 1 << 28
)

// frame is what all workers need to draw one model into a picture.
type frame struct {
	w, h      int
	stride    int        // words of a row
	x, y, z   [4]float64 // subpixel (and depth) from a place on the grid: three factors and an offset
	place     [3]carry   // the same in whole numbers
	clipped   bool       // the whole numbers do not fit
	lamps     [2][3]int64
	factors   factors
	modelBits uint64
	paint     *paint
	dot       int // half the width of a point, in samples
}

// carry is an axis in whole numbers.
type carry struct{ x, y, z, add int64 }

// cacheLine is how many words the cache fetches at once.
const cacheLine = 8

// strideOf returns how many words there are from row to row of a picture of w columns: an odd number of the cache's lines,
// so that what lies one below the other does not contend for the same few places in the nearest cache.
func strideOf(w int) int { return ((w+cacheLine-1)/cacheLine | 1) * cacheLine }

// canvas is a worker's own picture and its scratch memory for a cluster.
type canvas struct {
	words   []uint64
	marks   marks
	fetched uint64 // so that fetching without kernels is not left out
	scratch
	vectors vectors
}

// The sides of a triangle.
const (
	outer = iota
	inner
)

type scratch struct {
	x, y    [clusterMax]int64
	cell    [clusterMax]uint64 // the first column and row of pixels whose middle lies at or beyond the vertex
	z       [clusterMax]float64
	code    [clusterMax]float64
	light   [2][clusterMax]float64 // on the outer and on the inner side
	list    [clusterSize]uint8
	bySize  [5][clusterSize]uint8 // the same by the size of their boxes
	boxes   [clusterSize]box
	items   [mostItems]item
	spreads [mostSpreads]spread
	held    [2 * mostSpreads]uint64

	later    bool // depth, light and code of a vertex are found when a triangle needs them
	z0       int64
	position [][3]uint16
	normal   [][3]int8
	level    []uint16 // nil: bare
}

// newFrame sets up the projection; depths from near to far fill the depth range.
func newFrame(c Camera, w, h int, m *Model, index int, far, near float64) *frame {
	c = c.own(m)
	f := &frame{w: w, h: h, stride: strideOf(w), modelBits: uint64(index) << lightBits, paint: m.paint.Load()}
	back := c.Back()
	s := float64(h) / c.Height
	o := m.grid.zero.Sub(c.Target)
	g := m.grid.step
	set := func(axis *[4]float64, to *carry, bits int, d geom.Vec, scale, shift float64) {
		*axis = [4]float64{scale * d.X * g, scale * d.Y * g, scale * d.Z * g, float64(scale*o.Dot(d)) + shift}
		one := math.Ldexp(1, bits)
		// From the target, which is near what is seen, so that the offset is not lost in rounding.
		tx, ty, tz := math.Floor(-o.X/g), math.Floor(-o.Y/g), math.Floor(-o.Z/g)
		left := geom.Vec{X: o.X + float64(tx*g), Y: o.Y + float64(ty*g), Z: o.Z + float64(tz*g)}
		offset := float64(scale*left.Dot(d)) + shift + 0.5
		for _, v := range axis[:3] {
			f.clipped = f.clipped || !(math.Abs(v) < placeMost)
		}
		for _, v := range [4]float64{tx, ty, tz, offset} {
			f.clipped = f.clipped || !(math.Abs(v) < 1<<(62-placeBits))
		}
		if f.clipped {
			return
		}
		*to = carry{round(float64(axis[0] * one)), round(float64(axis[1] * one)), round(float64(axis[2] * one)), 0}
		to.add = int64(math.Floor(offset*one)) - to.x*int64(tx) - to.y*int64(ty) - to.z*int64(tz)
	}
	set(&f.x, &f.place[0], placeBits, c.Right, s*sub, float64(float64(w)/2*sub))
	set(&f.y, &f.place[1], placeBits, c.Up, -s*sub, float64(float64(h)/2*sub))
	f.depth(&f.z, &f.place[2], back, o, g, far, near)
	key := c.Right.Scale(-0.25).AddScaled(0.55, c.Up).AddScaled(0.80, back).Unit()
	fill := c.Right.Scale(0.75).AddScaled(-0.10, c.Up).AddScaled(0.65, back).Unit()
	f.lamps = [2][3]int64{lamp(key, keyLight), lamp(fill, fillLight)}
	f.setFactors()
	return f
}

// round goes to the nearest whole number.
func round(x float64) int64 { return int64(math.Floor(float64(x) + 0.5)) }

// perMM returns how much depth grows for a mm nearer.
func perMM(far, near float64) float64 { return depthRange / max(near-far, 1e-9) }

// depth sets up the axis towards the viewer. Its whole numbers are taken from the
// grid's zero: depths of all that is drawn fit there.
func (f *frame) depth(axis *[4]float64, to *carry, back, o geom.Vec, g, far, near float64) {
	k := perMM(far, near)
	*axis = [4]float64{k * back.X * g, k * back.Y * g, k * back.Z * g, float64(k*(o.Dot(back)-far)) + 1}
	const one = 1 << depthBits
	for _, v := range axis[:3] {
		f.clipped = f.clipped || !(math.Abs(v) < 1<<38)
	}
	f.clipped = f.clipped || !(math.Abs(axis[3]) < 1<<38)
	if !f.clipped {
		*to = carry{int64(math.Floor(axis[0] * one)), int64(math.Floor(axis[1] * one)), int64(math.Floor(axis[2] * one)), int64(math.Floor(axis[3] * one))}
	}
}

// at carries a place on the grid.
func (c *carry) at(p [3]int32) int64 {
	return c.add + c.x*int64(p[0]) + c.y*int64(p[1]) + c.z*int64(p[2])
}

// bounds is a cluster's box in the picture: subpixels, and depth.
type bounds struct{ x, rx, y, ry, z, rz float64 }

func (f *frame) bounds(c *cluster) bounds {
	var b bounds
	b.x, b.rx = span(&f.x, c)
	b.y, b.ry = span(&f.y, c)
	b.z, b.rz = span(&f.z, c)
	return b
}

// span returns the middle and the half width of a cluster's box along an axis.
func span(a *[4]float64, c *cluster) (mid, half float64) {
	mid = a[3]
	for k := range 3 {
		e := float64(float64(c.extent[k]) / 2)
		mid += float64(a[k] * (float64(c.base[k]) + e))
		half += float64(math.Abs(a[k]) * e)
	}
	return mid, half
}

// outside reports whether a cluster lies outside the picture.
func (f *frame) outside(b *bounds) bool {
	return b.x+b.rx < -sub || b.y+b.ry < -sub || b.x-b.rx > float64((f.w+1)*sub) || b.y-b.ry > float64((f.h+1)*sub)
}

// whole reports whether a cluster lies in the picture as a whole.
func (f *frame) whole(b *bounds) bool {
	return b.x-b.rx > sub && b.y-b.ry > sub && b.x+b.rx < float64((f.w-1)*sub) && b.y+b.ry < float64((f.h-1)*sub)
}

// draw draws a cluster that is not outside the picture.
func (f *frame) draw(m *Model, c *cluster, b *bounds, to *canvas) {
	switch {
	case len(m.corner) == 0:
		to.marks.box(b)
		f.points(m, c, to)
	case f.clipped || max(math.Abs(b.x)+b.rx, math.Abs(b.y)+b.ry) > (guard-1)*sub:
		to.marks.all()
		f.drawClipped(m, c, to)
	default:
		whole := f.whole(b)
		if whole {
			to.fetch(b, f.stride)
			if f.fits(b) {
				f.drawVectors(m, c, b, to)
				return
			}
		}
		f.project(m, c, &to.scratch)
		corner := m.corner[c.face : c.face+uint32(c.size)]
		n := to.survivors(corner)
		if n == 0 {
			return
		}
		to.marks.box(b)
		f.light(m, c, &to.scratch, n)
		if whole {
			f.batch(to, corner, n)
		} else {
			for _, i := range to.list[:n] {
				f.triangle(to, corner[i])
			}
		}
		to.later = false
	}
}

// project carries the cluster's vertices into the picture.
func (f *frame) project(m *Model, c *cluster, to *scratch) {
	from, n := int(c.vertex), int(c.vertices)
	x, y := f.place[0], f.place[1]
	x0, y0 := x.at(c.base), y.at(c.base)
	for i, p := range m.position[from : from+n] {
		ox, oy, oz := int64(p[0]), int64(p[1]), int64(p[2])
		px := (x0 + x.x*ox + x.y*oy + x.z*oz) >> placeBits
		py := (y0 + y.x*ox + y.y*oy + y.z*oz) >> placeBits
		i &= clusterMax - 1
		to.x[i], to.y[i] = px, py
		to.cell[i] = cellOf(px, py)
	}
}

// cellOf packs the first column, above, and row, below, of pixels whose middle lies at or beyond x, y.
func cellOf(x, y int64) uint64 {
	return uint64((x+sub/2-1)>>subBits)<<32 | uint64(uint32((y+sub/2-1)>>subBits))
}

// survivors lists the triangles whose box holds the middle of a pixel: not all
// corners are in one column or in one row of cells. Without a branch, since on dense meshes it could not be foretold.
func (s *scratch) survivors(corner [][3]uint8) int {
	n := 0
	for i := range corner {
		t := &corner[i]
		a := s.cell[t[0]]
		d := (a ^ s.cell[t[1]]) | (a ^ s.cell[t[2]])
		s.list[n&(clusterSize-1)] = uint8(i)
		const low = 1<<32 - 1
		n += int(((d&low + low) & (d>>32 + low)) >> 32)
	}
	return n
}

// light gives the vertices depth, light and scalar code. Where so few triangles are left that they hold fewer vertices,
// about every second being over no pixel's middle, these are left for later.
func (f *frame) light(m *Model, c *cluster, to *scratch, triangles int) {
	from, n := int(c.vertex), int(c.vertices)
	to.z0 = f.place[2].at(c.base)
	to.position, to.normal, to.level = m.position[from:from+n], m.normal[from:from+n], nil
	if f.paint != nil {
		to.level = f.paint.level[from : from+n]
	}
	if to.later = 3*triangles < 2*n; to.later {
		return
	}
	z, z0 := f.place[2], to.z0
	normal := to.normal[:n]
	for i := range to.position[:n] {
		p := &to.position[i]
		k := i & (clusterMax - 1)
		to.z[k] = float64((z0 + z.x*int64(p[0]) + z.y*int64(p[1]) + z.z*int64(p[2])) >> depthBits)
		to.light[outer][k], to.light[inner][k] = f.lit(&normal[i])
	}
	if to.level == nil {
		for i := range n {
			to.code[i&(clusterMax-1)] = bareCode
		}
		return
	}
	for i, l := range to.level {
		to.code[i&(clusterMax-1)] = float64(l)
	}
}

// lightOne does so for one vertex.
func (f *frame) lightOne(to *canvas, i uint8) {
	p, z := &to.position[i], &f.place[2]
	to.z[i] = float64((to.z0 + z.x*int64(p[0]) + z.y*int64(p[1]) + z.z*int64(p[2])) >> depthBits)
	to.light[outer][i], to.light[inner][i] = f.lit(&to.normal[i])
	to.code[i] = bareCode
	if to.level != nil {
		to.code[i] = float64(to.level[i])
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

// lampBits are the fraction of a lamp's factors.
const lampBits = 16

// lamp returns what a lamp adds per 1/127 of a normal's coordinates.
func lamp(d geom.Vec, strength float64) [3]int64 {
	k := strength / 127 * lightUnit * (1 << lampBits)
	return [3]int64{round(float64(k * d.X)), round(float64(k * d.Y)), round(float64(k * d.Z))}
}

// lit returns the light on the outer and on the inner side at a normal.
func (f *frame) lit(n *[3]int8) (front, back float64) {
	x, y, z := int64(n[0]), int64(n[1]), int64(n[2])
	k := f.lamps[0][0]*x + f.lamps[0][1]*y + f.lamps[0][2]*z
	l := f.lamps[1][0]*x + f.lamps[1][1]*y + f.lamps[1][2]*z
	const ambient = int64(ambientLight*lightUnit) << lampBits
	front = float64(ambient+max(k, 0)+max(l, 0)) * (1.0 / (1 << lampBits))
	back = float64(ambient-min(k, 0)-min(l, 0)) * (innerShare / (1 << lampBits))
	return front, back
}

// fetch reads where a cluster that lies in the picture as a whole is going to be drawn, a word of each of the cache's lines: they are on
// their way while the cluster is projected, and nothing waits for them one by one.
func (c *canvas) fetch(b *bounds, stride int) {
	left, right := int(b.x-b.rx)/sub, int(b.x+b.rx)/sub
	top, bottom := int(b.y-b.ry)/sub, int(b.y+b.ry)/sub
	if vector {
		fetchAVX2(&c.words[top*stride+left], stride, right-left+1, bottom-top+1)
		return
	}
	sum := uint64(0)
	for y := top; y <= bottom; y++ {
		row := c.words[y*stride+left : y*stride+right+1]
		for x := 0; x < len(row); x += cacheLine {
			sum += row[x]
		}
	}
	c.fetched += sum
}
