package chart

import (
	"image"
	"image/color"
	"math"
)

// An outline is a set of closed polygons in 1/256 pixel, filled where they wind
// about a point. Coverage is exact and computed in integers: each edge leaves in
// every pixel it crosses its height and the area to its left (the method of
// the scan converters of Levien's LibArt and FreeType).
type outline struct {
	edges [][4]int64
	at    [2]int64
	start [2]int64
	lo    [2]int64
	hi    [2]int64
	empty bool
}

const (
	fineBits = 8
	fine     = 1 << fineBits
)

func newOutline() *outline { return &outline{empty: true} }

// toFine rounds a coordinate in pixels; what no picture holds is cut off.
func toFine(v float64) int64 {
	const far = 1 << 20
	if !(v > -far) {
		v = -far
	}
	return int64(math.Floor(float64(min(v, far)*fine) + 0.5))
}

func (o *outline) moveTo(x, y float64) { o.moveFine(toFine(x), toFine(y)) }
func (o *outline) lineTo(x, y float64) { o.lineFine(toFine(x), toFine(y)) }

func (o *outline) moveFine(x, y int64) {
	o.close()
	o.at, o.start = [2]int64{x, y}, [2]int64{x, y}
	o.grow(x, y)
}

func (o *outline) lineFine(x, y int64) {
	if y != o.at[1] {
		o.edges = append(o.edges, [4]int64{o.at[0], o.at[1], x, y})
	}
	o.at = [2]int64{x, y}
	o.grow(x, y)
}

func (o *outline) close() {
	if !o.empty && o.at != o.start {
		o.lineFine(o.start[0], o.start[1])
	}
}

func (o *outline) grow(x, y int64) {
	if o.empty {
		o.lo, o.hi, o.empty = [2]int64{x, y}, [2]int64{x, y}, false
	}
	o.lo = [2]int64{min(o.lo[0], x), min(o.lo[1], y)}
	o.hi = [2]int64{max(o.hi[0], x), max(o.hi[1], y)}
}

// polygon adds a closed polygon, wound the same way whichever way it is given.
func (o *outline) polygon(points [][2]float64) {
	if len(points) < 3 {
		return
	}
	area := 0.0
	for i, p := range points {
		q := points[(i+1)%len(points)]
		area += float64(p[0]*q[1]) - float64(q[0]*p[1])
	}
	o.moveTo(points[0][0], points[0][1])
	for i := 1; i < len(points); i++ {
		p := points[i]
		if area < 0 {
			p = points[len(points)-i]
		}
		o.lineTo(p[0], p[1])
	}
	o.close()
}

// fill paints the outline over an opaque image, with an opacity of 0 to 255.
func (o *outline) fill(img *image.RGBA, c color.RGBA, opacity uint32) {
	o.close()
	if o.empty {
		return
	}
	clip := img.Rect
	x0, y0 := max(int(o.lo[0]>>fineBits), clip.Min.X), max(int(o.lo[1]>>fineBits), clip.Min.Y)
	x1, y1 := min(int(o.hi[0]>>fineBits)+1, clip.Max.X), min(int(o.hi[1]>>fineBits)+1, clip.Max.Y)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	g := coverage{x0: x0, y0: y0, w: x1 - x0, h: y1 - y0}
	g.cells = make([][2]int32, g.w*g.h)
	for _, e := range o.edges {
		g.edge(e[0], e[1], e[2], e[3])
	}
	g.paint(img, c, opacity)
}

// coverage gathers, per pixel, the height of the edges in it and twice the area to their left.
type coverage struct {
	x0, y0, w, h int
	cells        [][2]int32
}

// edge splits an edge at the rows it crosses.
func (g *coverage) edge(ax, ay, bx, by int64) {
	down := int32(1)
	if ay > by {
		ax, ay, bx, by, down = bx, by, ax, ay, -1
	}
	top, bottom := int64(g.y0)<<fineBits, int64(g.y0+g.h)<<fineBits
	atRow := func(y int64) int64 { return ax + (bx-ax)*(y-ay)/(by-ay) }
	x, y := ax, ay
	if y < top {
		y = top
		if y >= by {
			return
		}
		x = atRow(y)
	}
	for y < by && y < bottom {
		next := min((y>>fineBits+1)<<fineBits, by)
		nx := bx
		if next < by {
			nx = atRow(next)
		}
		g.row(int(y>>fineBits)-g.y0, x, nx, next-y, down)
		x, y = nx, next
	}
}

// row adds a piece of an edge within one row, from ax to bx, dy high.
func (g *coverage) row(row int, ax, bx, dy int64, down int32) {
	if ax > bx {
		ax, bx = bx, ax
	}
	left, right := int64(g.x0)<<fineBits, int64(g.x0+g.w)<<fineBits
	done := int64(0)
	upTo := func(x int64) int64 { // height used up when the edge has come to x
		if bx == ax {
			return dy
		}
		return dy * (x - ax) / (bx - ax)
	}
	x := ax
	if x < left { // what lies left of the picture covers all of the row
		to := min(bx, left)
		d := upTo(to)
		if to == bx {
			d = dy
		}
		g.add(row, 0, d, 0, down)
		done, x = d, left
		if bx <= left {
			return
		}
	}
	for x < right {
		next := min((x>>fineBits+1)<<fineBits, bx)
		d := upTo(next)
		if next == bx {
			d = dy
		}
		cell := x >> fineBits
		g.add(row, int(cell)-g.x0, d-done, (x-cell<<fineBits)+(next-cell<<fineBits), down)
		done, x = d, next
		if next == bx {
			return
		}
	}
}

func (g *coverage) add(row, col int, dy, twiceLeft int64, down int32) {
	c := &g.cells[row*g.w+col]
	c[0] += int32(dy) * down
	c[1] += int32(dy*twiceLeft) * down
}

// paint sums the cells along each row and blends.
func (g *coverage) paint(img *image.RGBA, c color.RGBA, opacity uint32) {
	const full = 2 * fine * fine
	for row := range g.h {
		sum := int32(0)
		at := img.PixOffset(g.x0, g.y0+row)
		for _, cell := range g.cells[row*g.w : (row+1)*g.w] {
			v := (sum+cell[0])*2*fine - cell[1]
			sum += cell[0]
			if v < 0 {
				v = -v
			}
			if v > 0 {
				a := uint32(min(v, full)) * opacity / full
				blend(img.Pix[at:at+4:at+4], c, a)
			}
			at += 4
		}
	}
}

// blend lays a colour over an opaque pixel with a strength of 0 to 255.
func blend(p []uint8, c color.RGBA, a uint32) {
	p[0] = uint8((uint32(p[0])*(255-a) + uint32(c.R)*a + 127) / 255)
	p[1] = uint8((uint32(p[1])*(255-a) + uint32(c.G)*a + 127) / 255)
	p[2] = uint8((uint32(p[2])*(255-a) + uint32(c.B)*a + 127) / 255)
	p[3] = 255
}
