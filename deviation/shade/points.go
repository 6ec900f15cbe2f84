package shade

import "math"

// points draws a cluster without faces: a dot of two by two pixels per point,
// lit by its normal on whichever side shows, or evenly where it has none.
func (f *frame) points(m *Model, c *cluster, to *canvas) {
	for i := c.vertex; i < c.vertex+uint32(c.vertices); i++ {
		p := &m.position[i]
		x, y := math.Floor(float64(along(&f.x, p)/sub)+0.5), math.Floor(float64(along(&f.y, p)/sub)+0.5)
		if !(x > -1 && y > -1 && x < float64(f.w+1) && y < float64(f.h+1)) {
			continue
		}
		front, back := f.light(&m.normal[i])
		light := max(front, back)
		if m.normal[i] == ([3]int8{}) {
			light = lightUnit * 0.9
		}
		code := float64(bareCode)
		if f.paint != nil {
			if level := f.paint.level[i]; level < unknownLevel/2 {
				code = unknownCode
			} else {
				code = max(firstCode, min(float64(level)+0.5, lastCode))
			}
		}
		word := uint64(int64(along(&f.z, p)))<<depthShift | uint64(int64(code))<<codeShift | f.modelBits | uint64(min(int64(light), lightMask))
		for row := max(int(y)-f.dot, 0); row < min(int(y)+f.dot, f.h); row++ {
			for col := max(int(x)-f.dot, 0); col < min(int(x)+f.dot, f.w); col++ {
				at := &to.words[row*f.w+col]
				*at = max(*at, word)
			}
		}
	}
}
