package gapflush

import (
	"context"
	"iter"
	"math"
	"sync"

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

// patch is the part of a mesh near a path, sorted into cells: what lies in one is side by side.
type patch struct {
	v       []geom.Vec
	n       []geom.Vec // unit, area-weighted over the patch's faces
	f       []patchFace
	verts   *grid
	faces   *grid           // by their middle; a large one lies nowhere
	large   run             // faces whose corners lie more than a cell from their middle
	middle  func() geom.Vec // of the whole mesh
	added   []addedPoint    // laid on flat faces of a mesh that was thinned, until they are sorted
	thinned float64         // by how many times as many points lie on flat parts as there are true ones; 0: not thinned
	far     float64         // mm, at most a cell: none of the others has a corner farther from its middle
}

// patchFace is a face of a patch.
type patchFace struct {
	corner   [3]int32
	n        geom.Vec // twice its area long
	long     float64  // the length of n
	mid      geom.Vec
	farthest float64 // mm from the middle to a corner
}

// beside reports that all corners of a face surely lie on one side of a plane through p, across being
// square to it and as long as said; a micrometre is left for rounding.
func (t *patchFace) beside(p, across geom.Vec, long float64) bool {
	return math.Abs(t.mid.Sub(p).Dot(across)) > float64(t.farthest*long*(1+1e-9))+1e-3
}

// cellSet is a set of cells.
type cellSet struct {
	lo   cell
	n    [3]int64
	bits []uint64      // in the box; nil where that would be large
	set  map[cell]bool // then
}

// mostBits is the size, in cells, of the largest box held as bits: 8 MB.
const mostBits = 1 << 26

// newCellSet returns an empty set of cells of a box.
func newCellSet(b geom.Box) *cellSet {
	lo, hi := cellOf(b.Lo), cellOf(b.Hi)
	s := &cellSet{lo: lo, n: [3]int64{int64(hi.x) - int64(lo.x) + 1, int64(hi.y) - int64(lo.y) + 1, int64(hi.z) - int64(lo.z) + 1}}
	if float64(s.n[0])*float64(s.n[1])*float64(s.n[2]) > mostBits {
		s.set = map[cell]bool{}
	} else {
		s.bits = make([]uint64, (s.n[0]*s.n[1]*s.n[2]+63)/64)
	}
	return s
}

// index returns the number of a cell in the box; ok is false outside it.
func (s *cellSet) index(c cell) (i int64, ok bool) {
	x, y, z := int64(c.x)-int64(s.lo.x), int64(c.y)-int64(s.lo.y), int64(c.z)-int64(s.lo.z)
	if x < 0 || y < 0 || z < 0 || x >= s.n[0] || y >= s.n[1] || z >= s.n[2] {
		return 0, false
	}
	return (x*s.n[1]+y)*s.n[2] + z, true
}

func (s *cellSet) add(c cell) {
	if s.set != nil {
		s.set[c] = true
	} else if i, ok := s.index(c); ok {
		s.bits[i/64] |= 1 << (i % 64)
	}
}

func (s *cellSet) has(c cell) bool {
	if s.set != nil {
		return s.set[c]
	}
	i, ok := s.index(c)
	return ok && s.bits[i/64]&(1<<(i%64)) != 0
}

// near returns the cells within reach of the path.
func near(ctx context.Context, p *polyline, reach float64) (*cellSet, error) {
	r := int32(math.Ceil(reach/cellSize)) + 1
	cells := newCellSet(geom.BoxOf(p.pts).Grow(float64(cellSize * float64(r+1))))
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
					if cells.has(d) {
						continue
					}
					lo := geom.Vec{X: float64(d.x), Y: float64(d.y), Z: float64(d.z)}.Scale(cellSize)
					b := geom.Box{Lo: lo, Hi: lo.Add(geom.Vec{X: cellSize, Y: cellSize, Z: cellSize})}
					// The step between the path's samples adds half a step at most.
					if g := reach + cellSize/4; b.Dist2(q) <= g*g {
						cells.add(d)
					}
				}
			}
		}
		if s >= p.full {
			return cells, nil
		}
	}
}

// Where a vertex lies to a box, a bit for each of its six planes that has it outside; onPath
// is one in a cell near the path.
const (
	belowX = 1 << iota
	belowY
	belowZ
	aboveX
	aboveY
	aboveZ
	onPath
	outside = onPath - 1
)

func sideOf(b *geom.Box, v geom.Vec) (out uint8) {
	if v.X < b.Lo.X {
		out |= belowX
	}
	if v.Y < b.Lo.Y {
		out |= belowY
	}
	if v.Z < b.Lo.Z {
		out |= belowZ
	}
	if v.X > b.Hi.X {
		out |= aboveX
	}
	if v.Y > b.Hi.Y {
		out |= aboveY
	}
	if v.Z > b.Hi.Z {
		out |= aboveZ
	}
	return out
}

// extract gathers the faces within reach of the path, in one pass over the mesh.
// Where fill is true, points are laid on what was thinned of it.
func extract(ctx context.Context, m *mesh.Mesh, p *polyline, reach float64, fill bool, threads int) (*patch, error) {
	cells, err := near(ctx, p, reach)
	if err != nil {
		return nil, err
	}
	box := geom.BoxOf(p.pts).Grow(reach + cellSize)
	at := make([]uint8, len(m.Vertices))
	const chunk = 1 << 16
	err = parallel.Chunks(ctx, len(m.Vertices), chunk, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			v := m.Vertices[i]
			if at[i] = sideOf(&box, v); at[i] == 0 && cells.has(cellOf(v)) {
				at[i] = onPath
			}
		}
	})
	if err != nil {
		return nil, err
	}
	picked := make([][]uint32, (len(m.Faces)+chunk-1)/chunk)
	err = parallel.Chunks(ctx, len(m.Faces), chunk, threads, nil, func(_, c, lo, hi int) {
		for f := lo; f < hi; f++ {
			t := &m.Faces[f]
			a, b, c2 := at[t[0]], at[t[1]], at[t[2]]
			// A face whose corners all lie beyond one plane of the box does not reach into it.
			if a&b&c2&outside != 0 {
				continue
			}
			if (a|b|c2)&onPath != 0 || spans(m, uint32(f), p, box, reach) {
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
	out := &patch{middle: sync.OnceValue(func() geom.Vec { return m.Bounds().Center() }), f: make([]patchFace, 0, n), v: make([]geom.Vec, 0, n/2+n/8)}
	for _, list := range picked {
		for _, f := range list {
			out.addFace(m, f, index)
		}
	}
	return out, out.finish(ctx, fill, threads)
}

// spans reports whether a face with no corner near the path reaches it all the same.
func spans(m *mesh.Mesh, f uint32, p *polyline, box geom.Box, reach float64) bool {
	a, b, c := m.Corners(f)
	// Most faces have sides, and so a box, much smaller than a cell.
	if max(a.Sub(b).Norm2(), a.Sub(c).Norm2()) < cellSize*cellSize/16 {
		return false
	}
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
	o.f = append(o.f, patchFace{corner: t})
}

// finish sorts a patch's faces and vertices into their cells.
func (o *patch) finish(ctx context.Context, fill bool, threads int) error {
	const chunk = 1 << 13
	at := make([]cell, len(o.f))
	err := parallel.Chunks(ctx, len(o.f), chunk, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			t := &o.f[i]
			a, b, c := o.v[t.corner[0]], o.v[t.corner[1]], o.v[t.corner[2]]
			t.n = b.Sub(a).Cross(c.Sub(a))
			t.long = t.n.Norm()
			t.mid = a.Add(b).Add(c).Scale(1.0 / 3)
			t.farthest = max(a.Dist(t.mid), b.Dist(t.mid), c.Dist(t.mid))
			at[i] = cellOf(t.mid)
			if t.farthest > cellSize {
				at[i] = nowhere
			}
		}
	})
	if err != nil {
		return err
	}
	if fill {
		o.fill()
	}
	// Vertices and faces take the places that their cells give them, either by themselves.
	normals := make([]geom.Vec, len(o.v), len(o.v)+len(o.added))
	sorts := [...]func(){
		func() { o.sumNormals(normals) },
		func() { o.verts = o.gridOfVertices() },
		func() { o.faces = newGrid(at) },
	}
	if err := parallel.Chunks(ctx, len(sorts), 1, threads, nil, func(_, i, _, _ int) { sorts[i]() }); err != nil {
		return err
	}
	places, err := o.sortVertices(ctx, normals, threads)
	if err != nil {
		return err
	}
	f := make([]patchFace, len(o.f))
	put := func(to int, from int32) {
		t := o.f[from]
		for k := range t.corner {
			t.corner[k] = places[t.corner[k]]
		}
		f[to] = t
	}
	err = parallel.Chunks(ctx, len(o.faces.ids), chunk, threads, nil, func(_, _, lo, hi int) {
		for to := lo; to < hi; to++ {
			put(to, o.faces.ids[to])
			o.faces.ids[to] = int32(to)
		}
	})
	if err != nil {
		return err
	}
	next := len(o.faces.ids)
	for i := range f[:next] {
		o.far = max(o.far, f[i].farthest)
	}
	o.far = min(o.far+rounding, cellSize)
	o.large = run{int32(next), int32(len(f))}
	for i := range at {
		if at[i] == nowhere {
			put(next, int32(i))
			next++
		}
	}
	o.f = f
	return ctx.Err()
}

// sumNormals adds up the normals of the faces about every vertex.
func (o *patch) sumNormals(normals []geom.Vec) {
	for i := range o.f {
		t := &o.f[i]
		for _, k := range t.corner {
			normals[k] = normals[k].Add(t.n)
		}
	}
}

// gridOfVertices sorts the vertices, and after them the points laid on flat faces, by where they lie.
func (o *patch) gridOfVertices() *grid {
	cells := make([]cell, len(o.v), len(o.v)+len(o.added))
	for i := range o.v {
		cells[i] = cellOf(o.v[i])
	}
	for _, p := range o.added {
		cells = append(cells, cellOf(p.v))
	}
	return newGrid(cells)
}

// sortVertices puts the vertices, and the points laid on flat faces, where the grid says, with their normals of any
// length, and says which place each has taken.
func (o *patch) sortVertices(ctx context.Context, normals []geom.Vec, threads int) (places []int32, err error) {
	for _, p := range o.added {
		o.v, normals = append(o.v, p.v), append(normals, p.n)
	}
	o.added = nil
	places = make([]int32, len(o.v))
	o.n = make([]geom.Vec, len(o.v))
	v := make([]geom.Vec, len(o.v))
	const chunk = 1 << 13
	err = parallel.Chunks(ctx, len(o.verts.ids), chunk, threads, nil, func(_, _, lo, hi int) {
		for to := lo; to < hi; to++ {
			from := o.verts.ids[to]
			places[from] = int32(to)
			v[to], o.n[to] = o.v[from], normals[from].Unit()
			o.verts.ids[to] = int32(to)
		}
	})
	o.v = v
	return places, err
}

// each goes through the faces of runs.
func (o *patch) each(runs []run) iter.Seq[*patchFace] {
	return func(yield func(*patchFace) bool) {
		for _, in := range runs {
			for i := range o.f[in.from:in.to] {
				if !yield(&o.f[int(in.from)+i]) {
					return
				}
			}
		}
	}
}

// collect appends to out what every cell that touches the ball of radius reach about p
// holds, always in the same order.
func collect(cells *grid, p geom.Vec, reach float64, out []run) []run {
	e := geom.Vec{X: reach, Y: reach, Z: reach}
	lo, hi := cellOf(p.Sub(e)), cellOf(p.Add(e))
	for x := lo.x; x <= hi.x; x++ {
		for y := lo.y; y <= hi.y; y++ {
			for z := lo.z; z <= hi.z; z++ {
				if r := cells.run(cell{x, y, z}); r.to > r.from {
					out = append(out, r)
				}
			}
		}
	}
	return out
}

// collectIn appends what every cell that touches the box of half sides x, s and h along
// a frame's axes about its place holds, always in the same order.
func collectIn(cells *grid, r *frame, x, s, h float64, out []run) []run {
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
				in := cells.run(cell{i, j, k})
				if in.to <= in.from {
					continue
				}
				mid := geom.Vec{X: (float64(i) + 0.5) * cellSize, Y: (float64(j) + 0.5) * cellSize, Z: (float64(k) + 0.5) * cellSize}
				a, b, c := r.local(mid)
				if math.Abs(a) <= x+corner && math.Abs(b) <= s+corner && math.Abs(c) <= h+corner {
					out = append(out, in)
				}
			}
		}
	}
	return out
}
