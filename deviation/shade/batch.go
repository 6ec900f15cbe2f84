package shade

import "math/bits"

// On dense meshes most triangles hold the middle of no pixel or of a few, and of which cannot be foretold. They are
// drawn in steps over all triangles of a cluster, with hardly a branch: by the size of their boxes
// they go into lists, of these come the pixels that are held, and those are drawn.

// box is the first column and row of a triangle's pixels.
type box struct{ left, top uint32 }

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

const (
	// mostItems are drawn at a time: so many that counting them seldom interrupts, so few that they stay in the nearest cache.
	mostItems = 1024
	itemMask  = mostItems - 1
	faceMask  = clusterSize - 1
)

// batch draws the first n triangles listed, of a cluster that lies in the picture as a whole.
func (f *frame) batch(to *canvas, corner [][3]uint8, n int) {
	s := &to.scratch
	sizes := s.classify(corner, n)
	of := func(size int) []uint8 { return s.bySize[size][:sizes>>(8*size)&0xff] }
	items := s.one(corner, of(0), int32(f.stride))
	twos := of(1)
	for len(twos) > 0 {
		some := min(len(twos), mostItems/4/2)
		items = s.two(corner, twos[:some], int32(f.stride), items)
		if items > mostItems/2 {
			f.pixels(to, items)
			items = 0
		}
		twos = twos[some:]
	}
	f.pixels(to, items)
	f.four(to, corner, of(2), false)
	f.four(to, corner, of(3), true)
	for _, i := range of(4) {
		f.triangle(to, corner[i])
	}
}

// classify sorts the n triangles listed by the size of their boxes: one pixel, two by two, four by four, four by
// eight, more. It returns how many there are of each, in bytes from the lowest on.
func (s *scratch) classify(corner [][3]uint8, n int) (sizes uint64) {
	for _, i := range s.list[:n] {
		t := &corner[i]
		a, b, c := s.cell[t[0]], s.cell[t[1]], s.cell[t[2]]
		left, right := int64(min(a, b, c)>>32), int64(max(a, b, c)>>32)
		top, bottom := min(uint32(a), uint32(b), uint32(c)), max(uint32(a), uint32(b), uint32(c))
		s.boxes[i&faceMask] = box{uint32(left), top}
		// Less one, and how many lists the box is past.
		columns, rows := right-left-1, int64(bottom-top)-1
		past := -((-(columns | rows))>>63 + (1-(columns|rows))>>63 + (3-(columns|rows))>>63 + ((3-columns)|(7-rows))>>63)
		at := uint(past) << 3 & 63
		s.bySize[past&7][sizes>>at&faceMask] = i
		sizes += 1 << at
	}
	return sizes
}

// one lists the pixels held by triangles whose box is one pixel.
func (s *scratch) one(corner [][3]uint8, list []uint8, w int32) (items int) {
	for _, i := range list {
		t := &corner[i]
		x0, y0, x1, y1, x2, y2 := s.x[t[0]], s.y[t[0]], s.x[t[1]], s.y[t[1]], s.x[t[2]], s.y[t[2]]
		b := &s.boxes[i&faceMask]
		px, py := int64(b.left)<<subBits+sub/2, int64(b.top)<<subBits+sub/2
		w0 := (x2-x1)*(py-y1) - (y2-y1)*(px-x1)
		w1 := (x0-x2)*(py-y2) - (y0-y2)*(px-x2)
		area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
		w2 := area - w0 - w1
		turned := area >> 63 // -1: the outer side shows
		to := &s.items[items&itemMask]
		to.at = int32(b.top)*w + int32(b.left)
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
		t := &corner[i]
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
		at := int32(b.top)*w + int32(b.left)
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

// An edge function over four columns of pixels is a word with a lane of 16 bits for each. Only its sign counts, and from pixel to
// pixel it grows by whole multiples of 2^subBits: without these bits it stays, over four by eight pixels, under
// 2*5*9*2^subBits < 2^15 either way. Lanes hold it with 2^15 more, so that the topmost bit is set where it is not
// negative, and no lane ever borrows from the next.
const (
	eachLane = 1<<48 | 1<<32 | 1<<16 | 1
	laneTop  = eachLane << 15
)

// lanes returns the edge function that is e at the first column and grows by dx<<subBits from column to column.
func lanes(e, dx int64) uint64 {
	return uint64(e>>subBits)*eachLane + uint64(dx)*(3<<48|2<<32|1<<16) + laneTop
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
func (f *frame) four(to *canvas, corner [][3]uint8, list []uint8, high bool) {
	s := &to.scratch
	for len(list) > 0 {
		n, more := 0, min(len(list), mostSpreads)
		for _, i := range list[:more] {
			held := f.spread(to, &corner[i], &s.boxes[i&faceMask], &s.spreads[n&(mostSpreads-1)], high)
			s.held[n] = held
			n += int(-held >> 63) // none is overwritten by the next
		}
		list = list[more:]
		held, next := s.held[0], s.held[1]
		for k := 0; k < n; {
			d := &s.spreads[k&(mostSpreads-1)]
			bit := bits.TrailingZeros64(held)
			held &= held - 1
			column, row := bit>>4, bit&15
			e0, e1 := unpacked(d.e + uint64(column)*d.dx + uint64(row)*d.dy)
			u, v := float64(e0)*d.r, float64(e1)*d.r
			word := uint64(int64(d.z+(float64(u*d.za)+float64(v*d.zb))))<<depthShift |
				uint64(int64(d.c+0.5+(float64(u*d.ca)+float64(v*d.cb))))<<codeShift | f.modelBits |
				uint64(int64(d.l+(float64(u*d.la)+float64(v*d.lb))))
			at := &to.words[d.at+row*f.stride+column]
			*at = max(*at, word)
			last := uint64(int64(held-1) >> 63) // all ones: it was the triangle's last pixel
			k -= int(last)
			held |= next & last
			next = s.held[(k+1)&(2*mostSpreads-1)]
		}
	}
}

// spread sets up a triangle and returns which pixels it holds: of the column c and the row r the bit 16c+r. high triangles have
// more than four rows.
func (f *frame) spread(to *canvas, t *[3]uint8, b *box, d *spread, high bool) uint64 {
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
	d.e = packed(w0*sign, w1*sign)
	d.dx = packed((y1-y2)*sign, (y2-y0)*sign) << subBits
	d.dy = packed((x2-x1)*sign, (x0-x2)*sign) << subBits
	d.at = int(b.top)*f.stride + int(b.left)
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
	p0 := lanes(w0*sign, (y1-y2)*sign)
	p1 := lanes(w1*sign, (y2-y0)*sign)
	p2 := lanes((area-w0-w1)*sign, (y0-y1)*sign)
	q0, q1, q2 := uint64((x2-x1)*sign)*eachLane, uint64((x0-x2)*sign)*eachLane, uint64((x1-x0)*sign)*eachLane
	held := p0 & p1 & p2 & laneTop >> 15
	p0, p1, p2 = p0+q0, p1+q1, p2+q2
	held |= p0 & p1 & p2 & laneTop >> 14
	p0, p1, p2 = p0+q0, p1+q1, p2+q2
	held |= p0 & p1 & p2 & laneTop >> 13
	p0, p1, p2 = p0+q0, p1+q1, p2+q2
	held |= p0 & p1 & p2 & laneTop >> 12
	if high {
		for k := 11; k > 7; k-- {
			p0, p1, p2 = p0+q0, p1+q1, p2+q2
			held |= p0 & p1 & p2 & laneTop >> (k & 63)
		}
	}
	return held
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
