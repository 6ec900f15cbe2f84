package gapflush

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// cellSize of the grid over the neighbourhood of a path, in mm.
const cellSize = 12.0

type cell struct{ x, y, z int32 }

func cellOf(p geom.Vec) cell {
	return cell{int32(math.Floor(p.X / cellSize)), int32(math.Floor(p.Y / cellSize)), int32(math.Floor(p.Z / cellSize))}
}

// patch is the part of a mesh near a path, sorted into cells.
type patch struct {
	v     []geom.Vec
	n     []geom.Vec // unit, area-weighted over the patch's faces
	f     [][3]int32
	fn    []geom.Vec // of a face, twice its area long
	verts *grid
	faces *grid   // by their middle; a large one lies nowhere
	large []int32 // faces whose corners lie more than a cell from their middle
}

// near returns the cells within reach of the path.
func near(ctx context.Context, p *polyline, reach float64) (map[cell]bool, error) {
	cells := map[cell]bool{}
	r := int32(math.Ceil(reach/cellSize)) + 1
	for s, k := 0.0, 1; ; s, k = s+cellSize/2, k+1 {
		if k%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		q := p.at(min(s, p.full))
		c := cellOf(q)
		for x := -r; x <= r; x++ {
			for y := -r; y <= r; y++ {
				for z := -r; z <= r; z++ {
					d := cell{c.x + x, c.y + y, c.z + z}
					lo := geom.Vec{X: float64(d.x), Y: float64(d.y), Z: float64(d.z)}.Scale(cellSize)
					b := geom.Box{Lo: lo, Hi: lo.Add(geom.Vec{X: cellSize, Y: cellSize, Z: cellSize})}
					// The step between the path's samples adds half a step at most.
					if g := reach + cellSize/4; b.Dist2(q) <= g*g {
						cells[d] = true
					}
				}
			}
		}
		if s >= p.full {
			return cells, nil
		}
	}
}

// extract gathers the faces within reach of the path, in one pass over the mesh.
func extract(ctx context.Context, m *mesh.Mesh, p *polyline, reach float64, threads int) (*patch, error) {
	cells, err := near(ctx, p, reach)
	if err != nil {
		return nil, err
	}
	box := geom.BoxOf(p.pts).Grow(reach + cellSize)
	mark := make([]bool, len(m.Vertices))
	const chunk = 1 << 16
	err = parallel.Chunks(ctx, len(m.Vertices), chunk, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if v := m.Vertices[i]; box.Contains(v) {
				mark[i] = cells[cellOf(v)]
			}
		}
	})
	if err != nil {
		return nil, err
	}
	out := &patch{}
	picked := make([][]uint32, (len(m.Faces)+chunk-1)/chunk)
	err = parallel.Chunks(ctx, len(m.Faces), chunk, threads, nil, func(_, c, lo, hi int) {
		for f := lo; f < hi; f++ {
			t := m.Faces[f]
			if mark[t[0]] || mark[t[1]] || mark[t[2]] || spans(m, uint32(f), p, box, reach) {
				picked[c] = append(picked[c], uint32(f))
			}
		}
	})
	if err != nil {
		return nil, err
	}
	index := make([]int32, len(m.Vertices)) // one more than a vertex's place in the patch
	n := 0
	for _, list := range picked {
		n += len(list)
	}
	out.f = make([][3]int32, 0, n)
	for _, list := range picked {
		for _, f := range list {
			out.addFace(m, f, index)
		}
	}
	out.finish()
	return out, nil
}

// spans reports whether a face with no corner near the path reaches it all the same.
func spans(m *mesh.Mesh, f uint32, p *polyline, box geom.Box, reach float64) bool {
	a, b, c := m.Corners(f)
	fb := geom.BoxOf([]geom.Vec{a, b, c})
	if !fb.Overlaps(box) || fb.Diagonal() < cellSize {
		return false
	}
	for s := 0.0; s < p.full+cellSize; s += cellSize {
		q := p.at(min(s, p.full))
		if fb.Dist2(q) > reach*reach {
			continue
		}
		if on, _ := geom.ClosestOnTriangle(q, a, b, c); on.Dist(q) <= reach {
			return true
		}
	}
	return false
}

func (o *patch) addFace(m *mesh.Mesh, f uint32, index []int32) {
	var t [3]int32
	for k, v := range m.Faces[f] {
		if index[v] == 0 {
			o.v = append(o.v, m.Vertices[v])
			index[v] = int32(len(o.v))
		}
		t[k] = index[v] - 1
	}
	o.f = append(o.f, t)
}

func (o *patch) finish() {
	o.n = make([]geom.Vec, len(o.v))
	o.fn = make([]geom.Vec, len(o.f))
	at := make([]cell, len(o.f))
	for i, t := range o.f {
		a, b, c := o.v[t[0]], o.v[t[1]], o.v[t[2]]
		o.fn[i] = b.Sub(a).Cross(c.Sub(a))
		for _, k := range t {
			o.n[k] = o.n[k].Add(o.fn[i])
		}
		mid := a.Add(b).Add(c).Scale(1.0 / 3)
		at[i] = cellOf(mid)
		if max(a.Dist(mid), b.Dist(mid), c.Dist(mid)) > cellSize {
			o.large = append(o.large, int32(i))
			at[i] = nowhere
		}
	}
	o.faces = newGrid(at)
	at = make([]cell, len(o.v))
	for i, v := range o.v {
		o.n[i] = o.n[i].Unit()
		at[i] = cellOf(v)
	}
	o.verts = newGrid(at)
}

// collect appends to out the entries of every cell that touches the ball of
// radius reach about p, always in the same order.
func collect(cells *grid, p geom.Vec, reach float64, out []int32) []int32 {
	e := geom.Vec{X: reach, Y: reach, Z: reach}
	lo, hi := cellOf(p.Sub(e)), cellOf(p.Add(e))
	for x := lo.x; x <= hi.x; x++ {
		for y := lo.y; y <= hi.y; y++ {
			for z := lo.z; z <= hi.z; z++ {
				out = append(out, cells.of(cell{x, y, z})...)
			}
		}
	}
	return out
}

// collectIn appends the entries of every cell that touches the box of half sides
// x, s and h along a frame's axes about its place, always in the same order.
func collectIn(cells *grid, r *frame, x, s, h float64, out []int32) []int32 {
	const corner = cellSize * 0.8661 // from a cell's middle, a little over the root of 3/4
	half := geom.Vec{
		X: float64(math.Abs(r.f.X)*x) + float64(math.Abs(r.a.X)*s) + float64(math.Abs(r.u.X)*h),
		Y: float64(math.Abs(r.f.Y)*x) + float64(math.Abs(r.a.Y)*s) + float64(math.Abs(r.u.Y)*h),
		Z: float64(math.Abs(r.f.Z)*x) + float64(math.Abs(r.a.Z)*s) + float64(math.Abs(r.u.Z)*h),
	}
	lo, hi := cellOf(r.p.Sub(half)), cellOf(r.p.Add(half))
	for i := lo.x; i <= hi.x; i++ {
		for j := lo.y; j <= hi.y; j++ {
			for k := lo.z; k <= hi.z; k++ {
				mid := geom.Vec{X: (float64(i) + 0.5) * cellSize, Y: (float64(j) + 0.5) * cellSize, Z: (float64(k) + 0.5) * cellSize}
				a, b, c := r.local(mid)
				if math.Abs(a) <= x+corner && math.Abs(b) <= s+corner && math.Abs(c) <= h+corner {
					out = append(out, cells.of(cell{i, j, k})...)
				}
			}
		}
	}
	return out
}
