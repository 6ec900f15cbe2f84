package shade

import "math/bits"

// On dense meshes most triangles hold the middle of no pixel or of a few, and of which cannot be foretold. They are
// drawn in steps over all triangles of a cluster, with hardly a branch: by the size of their boxes
// they go into lists, of these come the pixels that are held, and those are drawn.

// box is the first column and row of a triangle's pixels, and the number of rows.
type box struct{ left, top, rows int32 }

// item is a pixel that is held by a small triangle.
type item struct {
	at           int32  // in the canvas' words
	w0, w1, area int32  // edge functions opposite the first two corners, and what all three add up to; all of one sign
	corner       uint32 // the three, a byte each, and above them the side
}

// Two edge functions of 32 bits run side by side in a word, where one addition carries both on. The upper one is
// less by one where the lower one is negative; of triangles as small as those in lists nothing overflows.
func packed(e0, e1 int64) uint64 { return uint64(e0) + uint64(e1)<<32 }

func unpacked(p uint64) (e0, e1 int32) {
	e0 = int32(p)
	return e0, int32((p - uint64(int64(e0))) >> 32)
}

// missed is 1 where one of the packed edge functions or the third is negative, else 0.
func missed(p, e2 uint64) uint64 { return (p | p<<32 | e2) >> 63 }

const (
	// mostItems are drawn at a time: so many that counting them seldom interrupts, so few that they stay in the nearest cache.
	mostItems = 1024
	itemMask  = mostItems - 1
	faceMask  = clusterSize - 1
	// fourColumns and fourRows bound the boxes whose pixels are all looked at.
	fourColumns, fourRows = 4, 8
)

// batch draws the first n triangles listed, of a cluster that lies in the picture as a whole.
func (f *frame) batch(to *canvas, corner [][3]uint8, n int) {
	s := &to.scratch
	ones, twos, fours, more := s.classify(corner, n)
	items := s.one(corner, ones, int32(f.w))
	for from := 0; from < twos; from += mostItems / 4 / 2 {
		items = s.two(corner, s.twos[from:min(from+mostItems/4/2, twos)], int32(f.w), items)
		if items > mostItems/2 {
			f.pixels(to, items)
			items = 0
		}
	}
	f.pixels(to, items)
	f.four(to, corner, s.byRows(fours))
	for _, i := range s.large[:more] {
		f.triangle(to, corner[i])
	}
}

// classify sorts the n triangles listed by the size of their boxes.
func (s *scratch) classify(corner [][3]uint8, n int) (ones, twos, fours, more int) {
	for _, i := range s.list[:n] {
		t := corner[i]
		a, b, c := s.cell[t[0]], s.cell[t[1]], s.cell[t[2]]
		xa, xb, xc := int32(a>>32), int32(b>>32), int32(c>>32)
		ya, yb, yc := int32(a), int32(b), int32(c)
		left, top := min(xa, xb, xc), min(ya, yb, yc)
		rows := max(ya, yb, yc) - top
		s.boxes[i&faceMask] = box{left, top, rows}
		columns := max(xa, xb, xc) - left
		s.ones[ones&faceMask], s.twos[twos&faceMask], s.fours[fours&faceMask], s.large[more&faceMask] = i, i, i, i
		// 1 where the box is past what a list holds.
		pastOne := int((1 - (columns | rows)) >> 31 & 1)
		pastTwo := int((1 - (columns - 1 | (rows - 1))) >> 31 & 1)
		pastFour := int(((fourColumns - columns) | (fourRows - rows)) >> 31 & 1)
		ones, twos, fours, more = ones+1-pastOne, twos+pastOne-pastTwo, fours+pastTwo-pastFour, more+pastFour
	}
	return ones, twos, fours, more
}

// one lists the pixels held by triangles whose box is one pixel.
func (s *scratch) one(corner [][3]uint8, n int, w int32) (items int) {
	for _, i := range s.ones[:n] {
		t := corner[i]
		x0, y0, x1, y1, x2, y2 := s.x[t[0]], s.y[t[0]], s.x[t[1]], s.y[t[1]], s.x[t[2]], s.y[t[2]]
		b := &s.boxes[i&faceMask]
		px, py := int64(b.left)<<subBits+sub/2, int64(b.top)<<subBits+sub/2
		w0 := (x2-x1)*(py-y1) - (y2-y1)*(px-x1)
		w1 := (x0-x2)*(py-y2) - (y0-y2)*(px-x2)
		area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
		w2 := area - w0 - w1
		turned := area >> 63 // -1: the outer side shows
		to := &s.items[items&itemMask]
		to.at = b.top*w + b.left
		to.w0, to.w1, to.area = int32(w0), int32(w1), int32(area)
		to.corner = uint32(t[0]) | uint32(t[1])<<8 | uint32(t[2])<<16 | uint32(inner+turned)<<24
		// Turned so that what is inside is not negative; without area nothing is.
		miss := ((w0 ^ turned) - turned) | ((w1 ^ turned) - turned) | ((w2 ^ turned) - turned) | ((area ^ turned) - turned - 1)
		items += int(^miss >> 63 & 1)
	}
	return items
}

// two lists the pixels held by triangles whose box is up to two by two pixels. Where pixels lie beyond a box no corner
// reaches them, and they are missed.
func (s *scratch) two(corner [][3]uint8, list []uint8, w int32, items int) int {
	for _, i := range list {
		t := corner[i]
		x0, y0, x1, y1, x2, y2 := s.x[t[0]], s.y[t[0]], s.x[t[1]], s.y[t[1]], s.x[t[2]], s.y[t[2]]
		b := &s.boxes[i&faceMask]
		px, py := int64(b.left)<<subBits+sub/2, int64(b.top)<<subBits+sub/2
		w0 := (x2-x1)*(py-y1) - (y2-y1)*(px-x1)
		w1 := (x0-x2)*(py-y2) - (y0-y2)*(px-x2)
		area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
		turned := area >> 63
		sign := turned | 1
		e0, e1, e2 := w0*sign, w1*sign, (area-w0-w1)*sign
		area *= sign
		dx0, dx1 := (y1-y2)<<subBits*sign, (y2-y0)<<subBits*sign
		dy0, dy1 := (x2-x1)<<subBits*sign, (x0-x2)<<subBits*sign
		dx2, dy2 := -dx0-dx1, -dy0-dy1
		at := b.top*w + b.left
		corners := uint32(t[0]) | uint32(t[1])<<8 | uint32(t[2])<<16 | uint32(inner+turned)<<24
		for range 2 {
			to := &s.items[items&itemMask]
			to.at, to.w0, to.w1, to.area, to.corner = at, int32(e0), int32(e1), int32(area), corners
			items += int(^(e0 | e1 | e2 | (area - 1)) >> 63 & 1)
			to = &s.items[items&itemMask]
			to.at, to.w0, to.w1, to.area, to.corner = at+1, int32(e0+dx0), int32(e1+dx1), int32(area), corners
			items += int(^((e0 + dx0) | (e1 + dx1) | (e2 + dx2) | (area - 1)) >> 63 & 1)
			e0, e1, e2 = e0+dy0, e1+dy1, e2+dy2
			at += w
		}
	}
	return items
}

// byRows sorts the first n triangles of up to four columns by their rows, so that how many there are can be foretold.
func (s *scratch) byRows(n int) []uint8 {
	var ends [fourRows + 2]int
	for _, i := range s.fours[:n] {
		ends[s.boxes[i&faceMask].rows+1]++
	}
	for k := 1; k < len(ends); k++ {
		ends[k] += ends[k-1]
	}
	for _, i := range s.fours[:n] {
		to := &ends[s.boxes[i&faceMask].rows]
		s.sorted[*to&faceMask] = i
		*to++
	}
	return s.sorted[:n]
}

// spread is a triangle of up to four columns of pixels.
type spread struct {
	e, dx, dy uint64 // packed edge functions at the first pixel, and their growth
	r         float64
	z, za, zb float64 // depth of the last corner, and what the others have more
	l, la, lb float64
	c, ca, cb float64
	at        int // the first pixel in the canvas' words
}

// mostSpreads are drawn at a time.
const mostSpreads = 32

// four draws triangles whose box is up to four columns wide: of each it is found which pixels are held, a bit for each; then
// all those bits are gone through in one loop, since how many a triangle has cannot be foretold either.
func (f *frame) four(to *canvas, corner [][3]uint8, list []uint8) {
	s := &to.scratch
	for len(list) > 0 {
		n, more := 0, min(len(list), mostSpreads)
		for _, i := range list[:more] {
			held := f.spread(to, corner[i], &s.boxes[i&faceMask], &s.spreads[n&(mostSpreads-1)])
			s.held[n] = held
			n += int((uint64(held) + 1<<32 - 1) >> 32)
		}
		list = list[more:]
		held := s.held[0]
		for k := 0; k < n; {
			d := &s.spreads[k&(mostSpreads-1)]
			bit := bits.TrailingZeros32(held)
			held &= held - 1
			column, row := bit%fourColumns, bit/fourColumns
			e0, e1 := unpacked(d.e + uint64(column)*d.dx + uint64(row)*d.dy)
			u, v := float64(e0)*d.r, float64(e1)*d.r
			word := uint64(int64(d.z+(float64(u*d.za)+float64(v*d.zb))))<<depthShift |
				uint64(int64(d.c+0.5+(float64(u*d.ca)+float64(v*d.cb))))<<codeShift | f.modelBits |
				uint64(int64(d.l+(float64(u*d.la)+float64(v*d.lb))))
			at := &to.words[d.at+row*f.w+column]
			*at = max(*at, word)
			last := (uint64(held) - 1) >> 63 // 1: it was the triangle's last pixel
			k += int(last)
			held |= s.held[k&(2*mostSpreads-1)] & uint32(-last)
		}
	}
}

// spread sets up a triangle and returns which pixels it holds, a bit for each in rows of four.
func (f *frame) spread(to *canvas, t [3]uint8, b *box, d *spread) uint32 {
	s := &to.scratch
	x0, y0, x1, y1, x2, y2 := s.x[t[0]], s.y[t[0]], s.x[t[1]], s.y[t[1]], s.x[t[2]], s.y[t[2]]
	px, py := int64(b.left)<<subBits+sub/2, int64(b.top)<<subBits+sub/2
	w0 := (x2-x1)*(py-y1) - (y2-y1)*(px-x1)
	w1 := (x0-x2)*(py-y2) - (y0-y2)*(px-x2)
	area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
	if area == 0 {
		return 0
	}
	turned := area >> 63
	sign := turned | 1
	dx0, dx1 := (y1-y2)<<subBits*sign, (y2-y0)<<subBits*sign
	dy0, dy1 := (x2-x1)<<subBits*sign, (x0-x2)<<subBits*sign
	dx, dx2, dy, dy2 := packed(dx0, dx1), uint64(-dx0-dx1), packed(dy0, dy1), uint64(-dy0-dy1)
	e, e2 := packed(w0*sign, w1*sign), uint64((area-w0-w1)*sign)
	d.e, d.dx, d.dy = e, dx, dy
	d.at = int(b.top)*f.w + int(b.left)
	if to.later {
		f.lightOne(to, t[0])
		f.lightOne(to, t[1])
		f.lightOne(to, t[2])
	}
	light := &to.light[(inner+turned)&1]
	d.r = 1 / float64(area*sign)
	z, l, c := to.z[t[2]], light[t[2]], to.code[t[2]]
	d.z, d.za, d.zb = z, to.z[t[0]]-z, to.z[t[1]]-z
	d.l, d.la, d.lb = l, light[t[0]]-l, light[t[1]]-l
	d.c, d.ca, d.cb = c, to.code[t[0]]-c, to.code[t[1]]-c
	if to.code[t[0]]*to.code[t[1]]*c == 0 { // one is unknownCode
		d.c, d.ca, d.cb = unknownCode, 0, 0
	}
	out, shift := uint32(0), 0
	for ; shift < 4*int(b.rows); shift += fourColumns {
		g, g2 := e+dx, e2+dx2
		h, h2 := g+dx, g2+dx2
		k, k2 := h+dx, h2+dx2
		row := missed(e, e2) | missed(g, g2)<<1 | missed(h, h2)<<2 | missed(k, k2)<<3
		out |= uint32(row) << (shift & 31)
		e, e2 = e+dy, e2+dy2
	}
	return ^out & (1<<shift - 1)
}

// pixels draws the first n pixels listed.
func (f *frame) pixels(to *canvas, n int) {
	for i := range to.items[:n] {
		p := &to.items[i]
		a, b, c := uint8(p.corner), uint8(p.corner>>8), uint8(p.corner>>16)
		if to.later {
			f.lightOne(to, a)
			f.lightOne(to, b)
			f.lightOne(to, c)
		}
		light := &to.light[p.corner>>24&1]
		r := 1 / float64(p.area)
		u, v := float64(p.w0)*r, float64(p.w1)*r
		z, l, s := to.z[c], light[c], to.code[c]
		sa, sb := to.code[a]-s, to.code[b]-s
		if to.code[a]*to.code[b]*s == 0 { // one is unknownCode
			s, sa, sb = unknownCode, 0, 0
		}
		word := uint64(int64(z+(float64(u*(to.z[a]-z))+float64(v*(to.z[b]-z)))))<<depthShift |
			uint64(int64(s+0.5+(float64(u*sa)+float64(v*sb))))<<codeShift | f.modelBits |
			uint64(int64(l+(float64(u*(light[a]-l))+float64(v*(light[b]-l)))))
		at := &to.words[p.at]
		*at = max(*at, word)
	}
}
