package lod

import "shutline/mesh/geom"

// cells is a cubic grid of cells in blocks: what lies in one block is worked on within the nearest caches.
type cells struct {
	from     geom.Vec
	perMm    float64
	last     [3]int // the last cell along each axis
	shift    int    // a block is 1<<shift cells wide
	row, bed uint32 // blocks along x, and along x and y
	all      int    // blocks
}

const (
	cellBits   = 21 // of a cell's number along each axis
	leastShift = 4  // some 16 x 16 cells of a skin, of which a stand-in has two triangles each
	mostBlocks = 1 << 15
)

// newCells lays cells of the given side, mm, over a box, which may be empty; ok is false where they would be too many.
func newCells(box geom.Box, side float64) (g cells, ok bool) {
	g = cells{from: box.Lo, perMm: 1 / side, shift: leastShift}
	if box.Empty() {
		g.row, g.bed, g.all = 1, 1, 1
		return g, true
	}
	size := box.Size()
	for k, s := range [3]float64{size.X, size.Y, size.Z} {
		n := s * g.perMm
		if n >= 1<<cellBits {
			return g, false
		}
		g.last[k] = int(n)
	}
	for {
		x, y, z := g.last[0]>>g.shift+1, g.last[1]>>g.shift+1, g.last[2]>>g.shift+1
		if g.row, g.bed, g.all = uint32(x), uint32(x*y), x*y*z; g.all <= mostBlocks {
			return g, true
		}
		g.shift++
	}
}

// blocks returns how many there are.
func (g *cells) blocks() int { return g.all }

// of returns the block that a point lies in, and its cell's number within that. Points beyond the box count as on its side,
// and coordinates that are not numbers as on the last one.
func (g *cells) of(p *geom.Vec) (block uint32, cell uint64) {
	x := along((p.X-g.from.X)*g.perMm, g.last[0])
	y := along((p.Y-g.from.Y)*g.perMm, g.last[1])
	z := along((p.Z-g.from.Z)*g.perMm, g.last[2])
	s := uint(g.shift) & 63
	in := uint(1)<<s - 1
	return uint32(x>>s) + uint32(y>>s)*g.row + uint32(z>>s)*g.bed, uint64(x&in | (y&in|(z&in)<<s)<<s)
}

// along returns the cell along an axis, 0 to last. What no whole number holds is not converted: processors differ there.
func along(x float64, last int) uint {
	switch {
	case !(x < float64(last)):
		return uint(last)
	case x < 0:
		return 0
	}
	return uint(x)
}
