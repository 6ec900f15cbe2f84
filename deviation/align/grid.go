package align

import (
	"shutline/mesh/geom"
)

const (
	// gridCells is how many cells the box diagonal is cut into: cells of 20 mm
	// on a 3.3 m body side, a few cells to the width of the search.
	gridCells = 160
	// gridBand is how far from the surface cells are filled, in diagonals; it is
	// wider than the first search scale, coarseScale.
	gridBand = 0.028
	// gridMost bounds the memory for parts that fill their box.
	gridMost = 4_000_000
)

// grid holds, for each cell of a band around the reference, the sample nearest
// to the cell's middle: a closest point for the price of one look-up.
type grid struct {
	lo         geom.Vec
	perMM      float64
	nx, ny, nz int
	cell       []int32 // index into samples, -1 outside the band
	samples    []point
}

func newGrid(samples []point, box geom.Box, diag float64) *grid {
	band := float64(gridBand * diag)
	b := box.Grow(band)
	size := b.Size()
	edge := max(diag/gridCells, geom.Pow(size.X*size.Y*size.Z/gridMost, 1.0/3))
	g := &grid{lo: b.Lo, perMM: 1 / edge, samples: samples}
	g.nx, g.ny, g.nz = int(size.X/edge)+1, int(size.Y/edge)+1, int(size.Z/edge)+1
	g.cell = make([]int32, g.nx*g.ny*g.nz)
	for i := range g.cell {
		g.cell[i] = -1
	}
	g.spread(edge, band+edge)
	return g
}

// spread carries every sample outward from cell to cell for as long as it is
// nearer than what a cell holds already.
func (g *grid) spread(edge, band float64) {
	best := make([]float32, len(g.cell))
	for i := range best {
		best[i] = float32(band * band)
	}
	var front []int32
	offer := func(x, y, z int, s int32) {
		i := (z*g.ny+y)*g.nx + x
		middle := g.lo.Add(geom.Vec{X: float64(x) + 0.5, Y: float64(y) + 0.5, Z: float64(z) + 0.5}.Scale(edge))
		if d := float32(middle.Sub(g.samples[s].p).Norm2()); d < best[i] {
			best[i], g.cell[i] = d, s
			front = append(front, int32(i))
		}
	}
	for s := range g.samples {
		if x, y, z, ok := g.locate(g.samples[s].p); ok {
			offer(x, y, z, int32(s))
		}
	}
	for len(front) > 0 {
		now := front
		front = nil
		for _, i := range now {
			x, y, z := int(i)%g.nx, int(i)/g.nx%g.ny, int(i)/g.nx/g.ny
			s := g.cell[i]
			for zz := max(z-1, 0); zz <= min(z+1, g.nz-1); zz++ {
				for yy := max(y-1, 0); yy <= min(y+1, g.ny-1); yy++ {
					for xx := max(x-1, 0); xx <= min(x+1, g.nx-1); xx++ {
						offer(xx, yy, zz, s)
					}
				}
			}
		}
	}
}

func (g *grid) locate(p geom.Vec) (x, y, z int, ok bool) {
	d := p.Sub(g.lo).Scale(g.perMM)
	if !(d.X >= 0 && d.Y >= 0 && d.Z >= 0) {
		return 0, 0, 0, false
	}
	if d.X >= float64(g.nx) || d.Y >= float64(g.ny) || d.Z >= float64(g.nz) {
		return 0, 0, 0, false
	}
	return int(d.X), int(d.Y), int(d.Z), true
}

// nearest returns the sample near p, nil outside the band.
func (g *grid) nearest(p geom.Vec) *point {
	x, y, z, ok := g.locate(p)
	if !ok {
		return nil
	}
	s := g.cell[(z*g.ny+y)*g.nx+x]
	if s < 0 {
		return nil
	}
	return &g.samples[s]
}
