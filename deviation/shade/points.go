package shade

import "math"

// points draws a cluster without faces: a dot of two by two pixels per point,
// lit by its normal on whichever side shows, or evenly where it has none.
func (f *frame) points(m *Model, c *cluster, to *canvas) {
	for i := c.vertex; i < c.vertex+uint32(c.vertices); i++ {
		p := f.corner(m.placeOf(c, i), &m.normal[i], f.code(i))
		x, y := math.Floor((p[0]+sub/2)/sub), math.Floor((p[1]+sub/2)/sub)
		if !(x > -1 && y > -1 && x < float64(f.w+1) && y < float64(f.h+1)) {
			continue
		}
		light := max(p[3], p[4])
		if m.normal[i] == ([3]int8{}) {
			light = lightUnit * 0.9
		}
		word := uint64(int64(p[2]))<<depthShift | uint64(p[5])<<codeShift | f.modelBits | uint64(int64(light))
		for row := max(int(y)-f.dot, 0); row < min(int(y)+f.dot, f.h); row++ {
			for col := max(int(x)-f.dot, 0); col < min(int(x)+f.dot, f.w); col++ {
				at := &to.words[row*f.stride+col]
				*at = max(*at, word)
			}
		}
	}
}
