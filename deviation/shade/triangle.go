package shade

import "math"

// triangle draws one triangle of the projected cluster. It covers the pixels whose middle it holds, its
// border included, save where that is the right or the lower end of its box.
func (f *frame) triangle(to *canvas, t [3]uint8) {
	a, b, c := t[0], t[1], t[2]
	x0, y0, x1, y1, x2, y2 := to.x[a], to.y[a], to.x[b], to.y[b], to.x[c], to.y[c]
	area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
	if area == 0 {
		return
	}
	light := &to.light[inner]
	if area < 0 { // y points down: the outer side turns the other way
		b, c = c, b
		x1, y1, x2, y2 = x2, y2, x1, y1
		area, light = -area, &to.light[outer]
	}
	left, right := (min(x0, x1, x2)+sub/2-1)>>subBits, (max(x0, x1, x2)+sub/2-1)>>subBits-1
	top, bottom := (min(y0, y1, y2)+sub/2-1)>>subBits, (max(y0, y1, y2)+sub/2-1)>>subBits-1
	left, top = max(left, 0), max(top, 0)
	right, bottom = min(right, int64(f.w-1)), min(bottom, int64(f.h-1))
	if left > right || top > bottom {
		return
	}
	// Edge functions at the middle of the first pixel; they add up to the area.
	px, py := left<<subBits+sub/2, top<<subBits+sub/2
	w0 := (x2-x1)*(py-y1) - (y2-y1)*(px-x1)
	w1 := (x0-x2)*(py-y2) - (y0-y2)*(px-x2)
	w2 := area - w0 - w1
	// Their growth to the right and downward.
	dx0, dy0 := (y1-y2)<<subBits, (x2-x1)<<subBits
	dx1, dy1 := (y2-y0)<<subBits, (x0-x2)<<subBits
	dx2, dy2 := (y0-y1)<<subBits, (x1-x0)<<subBits
	at := int(top)*f.stride + int(left)
	columns, rows := int(right-left)+1, int(bottom-top)+1
	if to.later {
		f.lightOne(to, a)
		f.lightOne(to, b)
		f.lightOne(to, c)
	}
	r := 1 / float64(area)
	if area < smallArea || columns > widest || rows > widest {
		e := edges{w0, w1, w2, dx0, dx1, dx2, dy0, dy1, dy2}
		k := corners{
			z: [3]float64{to.z[a], to.z[b], to.z[c]},
			l: [3]float64{light[a], light[b], light[c]},
			s: [3]float64{to.code[a], to.code[b], to.code[c]},
			r: r,
		}
		f.largeTriangle(to, at, columns, rows, &e, &k)
		return
	}
	u0, v0, ux, vx, uy, vy := float64(w0)*r, float64(w1)*r, float64(dx0)*r, float64(dx1)*r, float64(dy0)*r, float64(dy1)*r
	z, l, s := to.z[c], light[c], to.code[c]
	za, zb := (to.z[a]-z)*(1<<zFraction), (to.z[b]-z)*(1<<zFraction)
	la, lb := (light[a]-l)*(1<<lFraction), (light[b]-l)*(1<<lFraction)
	sa, sb := (to.code[a]-s)*(1<<sFraction), (to.code[b]-s)*(1<<sFraction)
	if to.code[a]*to.code[b]*s == 0 { // one is unknownCode
		s, sa, sb = unknownCode, 0, 0
	}
	const zUp, sUp, half = 32 - zFraction, 64 - 16 - sFraction, 1 << 47
	depth := uint64(int64(float64(z*(1<<zFraction))+(float64(za*u0)+float64(zb*v0)))) << zUp
	depthX := uint64(int64(float64(za*ux)+float64(zb*vx))) << zUp
	depthY := uint64(int64(float64(za*uy)+float64(zb*vy))) << zUp
	rest := uint64(int64(float64(s*(1<<sFraction))+(float64(sa*u0)+float64(sb*v0))))<<sUp + half + uint64(int64(float64(l*(1<<lFraction))+(float64(la*u0)+float64(lb*v0))))
	restX := uint64(int64(float64(sa*ux)+float64(sb*vx)))<<sUp + uint64(int64(float64(la*ux)+float64(lb*vx)))
	restY := uint64(int64(float64(sa*uy)+float64(sb*vy)))<<sUp + uint64(int64(float64(la*uy)+float64(lb*vy)))
	model := f.modelBits
	for ; rows > 0; rows-- {
		e0, e1, e2, d, q := w0, w1, w2, depth, rest
		row := to.words[at : at+columns]
		for i := range row {
			outside := uint64((e0 | e1 | e2) >> 63)
			word := d&depthMask | q>>32&codeMask | model | q>>lFraction&lightMask
			row[i] = max(row[i], word&^outside)
			e0, e1, e2, d, q = e0+dx0, e1+dx1, e2+dx2, d+depthX, q+restX
		}
		at += f.stride
		w0, w1, w2, depth, rest = w0+dy0, w1+dy1, w2+dy2, depth+depthY, rest+restY
	}
}

// Depth runs over a triangle as a fixed-point number of 32.32 bits; the scalar code, of 16.16 bits,
// runs above the light, of 10.22 bits, in another. Sums wrap; what is carried between
// the two is exact wherever both are in range, and on the triangle they are.
const (
	depthMask = (1<<32 - 1) << depthShift
	codeMask  = 0xffff << codeShift
	// zFraction, sFraction and lFraction are the bits computed of the fractions.
	zFraction, sFraction, lFraction = 16, 16, 22
	// widest is the box, in pixels, up to which all pixels of a row are treated alike, without a branch.
	widest = 12
	// smallArea, twice the area in square subpixels, is the least with which nothing in a box of widest
	// pixels overflows: an edge function reaches 2*(12*256)^2 < 2^25 there, a depth 2^(32+zFraction); over 2^12 they make under 2^62.
	smallArea = 1 << 12
	// steepest bounds what is computed in fixed point of larger triangles, so that it fits. What is steeper, slivers
	// seen edge-on, is drawn pixel by pixel.
	steepest = 1 << 62
)

// edges are the edge functions at a pixel's middle with their growth from pixel to pixel.
type edges struct {
	w0, w1, w2    int64
	dx0, dx1, dx2 int64
	dy0, dy1, dy2 int64
}

// corners hold depth, light and scalar code of a triangle's corners, and one over its area.
type corners struct {
	z, l, s [3]float64
	r       float64
}

// word returns the word of the pixel where the edge functions are e.
func (k *corners) word(e *edges, bits uint64) uint64 {
	w0, w1 := float64(e.w0)*k.r, float64(e.w1)*k.r
	mix := func(v *[3]float64) float64 {
		return v[2] + (float64(w0*(v[0]-v[2])) + float64(w1*(v[1]-v[2])))
	}
	return uint64(int64(mix(&k.z)))<<depthShift | uint64(int64(mix(&k.s)+0.5))<<codeShift | bits | uint64(int64(mix(&k.l)))
}

// varying is what runs over a triangle, with its growth from pixel to pixel: z the depth, a code and light.
type varying struct {
	z, zx, zy uint64
	a, ax, ay uint64
}

// varying returns false where something is too steep for it.
func (k *corners) varying(e *edges) (v varying, ok bool) {
	w0, w1 := float64(e.w0)*k.r, float64(e.w1)*k.r
	x0, x1, y0, y1 := float64(e.dx0)*k.r, float64(e.dx1)*k.r, float64(e.dy0)*k.r, float64(e.dy1)*k.r
	var most float64
	fixed := func(c *[3]float64, one float64) (start, x, y uint64) {
		a, b := (c[0]-c[2])*one, (c[1]-c[2])*one
		s := float64(c[2]*one) + (float64(a*w0) + float64(b*w1))
		dx, dy := float64(a*x0)+float64(b*x1), float64(a*y0)+float64(b*y1)
		most = max(most, math.Abs(s), math.Abs(dx), math.Abs(dy))
		if !(most < steepest) {
			return 0, 0, 0
		}
		return uint64(int64(s)), uint64(int64(dx)), uint64(int64(dy))
	}
	z, zx, zy := fixed(&k.z, 1<<zFraction)
	s, sx, sy := fixed(&k.s, 1<<sFraction)
	l, lx, ly := fixed(&k.l, 1<<lFraction)
	const zUp, sUp, half = 32 - zFraction, 64 - 16 - sFraction, 1 << 47
	return varying{z << zUp, zx << zUp, zy << zUp, s<<sUp + half + l, sx<<sUp + lx, sy<<sUp + ly}, most < steepest
}

// largeTriangle draws what the loop for small triangles cannot.
func (f *frame) largeTriangle(to *canvas, at, columns, rows int, e *edges, k *corners) {
	if min(k.s[0], k.s[1], k.s[2]) == unknownCode {
		k.s = [3]float64{}
	}
	v, ok := k.varying(e)
	for range rows {
		row := to.words[at : at+columns]
		if ok {
			wideRow(row, *e, v, f.modelBits)
		} else {
			k.steepRow(row, *e, f.modelBits)
		}
		at += f.stride
		e.w0, e.w1, e.w2 = e.w0+e.dy0, e.w1+e.dy1, e.w2+e.dy2
		v.z, v.a = v.z+v.zy, v.a+v.ay
	}
}

// wideRow draws the pixels of a row that lie in the triangle.
func wideRow(row []uint64, e edges, v varying, bits uint64) {
	i := 0
	for ; i < len(row) && e.w0|e.w1|e.w2 < 0; i++ {
		e.w0, e.w1, e.w2 = e.w0+e.dx0, e.w1+e.dx1, e.w2+e.dx2
	}
	z, a := v.z+uint64(i)*v.zx, v.a+uint64(i)*v.ax
	for ; i < len(row) && e.w0|e.w1|e.w2 >= 0; i++ {
		row[i] = max(row[i], z&depthMask|a>>32&codeMask|bits|a>>lFraction&lightMask)
		e.w0, e.w1, e.w2 = e.w0+e.dx0, e.w1+e.dx1, e.w2+e.dx2
		z, a = z+v.zx, a+v.ax
	}
}

// steepRow is wideRow for what is too steep to be carried from pixel to pixel.
func (k *corners) steepRow(row []uint64, e edges, bits uint64) {
	for i := range row {
		if e.w0|e.w1|e.w2 >= 0 {
			row[i] = max(row[i], k.word(&e, bits))
		}
		e.w0, e.w1, e.w2 = e.w0+e.dx0, e.w1+e.dx1, e.w2+e.dx2
	}
}
