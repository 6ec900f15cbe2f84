package shade

import "shutline/mesh/pages"

//go:generate go run -C kernelgen . -out ../kernels_amd64.s -stubs ../kernels_amd64.go -pkg shade

// Where the processor has vector instructions, clusters of small triangles are drawn by kernels that do what batch does, to the
// bit: sums of whole numbers are exact in any order, and of the others each is rounded as it is there. A cluster's vertices
// are carried into the picture (project); of eight triangles at a time it is found which hold pixels, of small ones which (cover),
// of those of some more columns and rows afterwards (spread); and those pixels are drawn (pixels).

// vectors are a cluster's vertices, triangles and pixels while kernels draw it. The kernels know where the fields lie.
type vectors struct {
	record [clusterMax + 4][4]float64 // depth, light on the outer and on the inner side, scalar code
	place  [clusterMax + 8]uint32     // 1/256 pixels from the cluster's corner in the picture, the row above the column

	// What cover tells of a triangle: one over its double area, edge functions at the first pixel of its box, double area, how the
	// functions grow (downwards above rightwards, in 1/256), where that pixel lies; number, a bit for the side and how many rows.
	inverse         [clusterSize + 8]float64
	edge0, edge1    [clusterSize + 8]int32
	area            [clusterSize + 8]int32
	grow0, grow1    [clusterSize + 8]uint32
	first           [clusterSize + 8]int32
	tag             [clusterSize + 8]uint32
	medium, large   [clusterSize + 16]uint8
	itemE0, itemE1  [mostItems + 8]int32
	itemAt, itemTag [mostItems + 8]int32
}

// padding is how many more than there are the kernels read of what the vertices and triangles hold.
const padding = 8

// padded returns a slice of length n that may be read a little beyond its end.
func padded[T any](n int) []T {
	s := make([]T, n, n+padding)
	pages.Huge(s)
	return s
}

const (
	// vectorWidest, in pixels, is the cluster up to which 16 bits hold where its vertices lie.
	vectorWidest = 120
	// vectorStride is what rows may be apart for 16 bits.
	vectorStride = 1<<15 - 1
	// spreadMost is how many pixels spread may find of a triangle.
	spreadMost = 32
)

// factors are what vertices are multiplied by, four times each: the lower halves of the columns' and the rows' factors, of the depth's
// both, the lamps', then the upper halves of the columns' and the rows' beside one another, and whether there are any.
type factors [21][4]uint64

func (f *frame) setFactors() {
	put := func(at int, v uint64) { f.factors[at] = [4]uint64{v, v, v, v} }
	any := uint64(0)
	for k := range 2 {
		all := uint64(0)
		for i, v := range []int64{f.place[k].x, f.place[k].y, f.place[k].z} {
			low := int64(int32(v))
			high := uint64(uint16((v - low) >> 32))
			put(3*k+i, uint64(low))
			all |= high << (16 * i)
		}
		put(18+k, all)
		any |= all
	}
	put(20, any)
	for i, v := range []int64{f.place[2].x, f.place[2].y, f.place[2].z} {
		put(6+i, uint64(v)&(1<<32-1))
		put(9+i, uint64(v)>>32)
	}
	for k := range f.lamps {
		for i, v := range f.lamps[k] {
			low := uint64(uint32(v))
			put(12+3*k+i, low|low<<32)
		}
	}
}

// bareLevels are the scalar codes of vertices without a paint.
var bareLevels = func() (l [clusterMax + padding]uint16) {
	for i := range l {
		l[i] = bareCode
	}
	return l
}()

// fits reports whether kernels may draw a cluster that lies in the picture as a whole.
func (f *frame) fits(b *bounds) bool {
	return vector && f.stride <= vectorStride && max(b.rx, b.ry) < vectorWidest*sub/2
}

// drawVectors draws a cluster that fits.
func (f *frame) drawVectors(m *Model, c *cluster, b *bounds, to *canvas) {
	v := &to.vectors
	left, top := int64(b.x-b.rx)>>subBits-1, int64(b.y-b.ry)>>subBits-1
	from := int(c.vertex)
	level := &bareLevels[0]
	if f.paint != nil {
		level = &f.paint.level[from]
	}
	add := [3]int64{
		f.place[0].at(c.base) - left<<(subBits+placeBits),
		f.place[1].at(c.base) - top<<(subBits+placeBits),
		f.place[2].at(c.base),
	}
	at := &v.record[0][0]
	projectAVX2(at, &f.factors[0][0], &add[0], &m.position[from][0], &m.normal[from][0], level, (int(c.vertices)+3)/4)
	corner := m.corner[c.face : c.face+uint32(c.size)]
	items, mediums, larges := coverAVX2(at, &corner[0][0], len(corner), f.stride)
	if items+mediums+larges == 0 {
		return
	}
	to.marks.box(b)
	words := &to.words[int(top)*f.stride+int(left)]
	pixels := func() {
		if items > 0 {
			pixelsAVX2(at, &corner[0][0], words, f.modelBits, items)
		}
		items = 0
	}
	for list := v.medium[:mediums]; len(list) > 0; {
		some := min(len(list), (mostItems-items)/spreadMost)
		items = spreadAVX2(at, &list[0], some, f.stride, items)
		list = list[some:]
		if items > mostItems/2 {
			pixels()
		}
	}
	pixels()
	if larges > 0 {
		f.project(m, c, &to.scratch)
		f.light(m, c, &to.scratch, larges)
		for _, i := range v.large[:larges] {
			f.triangle(to, corner[i])
		}
		to.later = false
	}
}
