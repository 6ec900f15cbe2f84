// Package lod makes coarser meshes for drawing. Numbers are never read from them.
package lod

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// ErrCell says that a cell's size is not a positive number.
var ErrCell = errors.New("the cell must be a positive number of millimetres")

// Level is a coarser mesh and what of the full one became what of it.
type Level struct {
	Mesh    *mesh.Mesh
	Normals []geom.Vec // unit, of its vertices
	Of      []uint32   // for every vertex of the full mesh the vertex that stands for it
	Members []uint32   // for every vertex how many vertices of the full mesh it stands for
	Moved   float64    // mm, the farthest that a vertex stands from one it stands for
}

const (
	vertexRun = 1 << 14
	mostRuns  = 32 // of vertices that are sorted side by side
	faceRun   = 1 << 15
	blockRun  = 16
)

// Cluster joins the vertices that share a cell of a cubic grid, given by its side in
// mm, and face the same way; normal returns normals of the vertices, unit to within 1 %, to many threads at once. No vertex moves by
// more than a cell's diagonal. Where a cell holds part of a border, its vertex stands on the
// middle of that part, so that borders stay where they are to within a cell. Pieces that fit
// into a cell vanish. The result is the same for any number of threads.
//
// Based on: Rossignac & Borrel, "Multi-resolution 3D approximations" (1993).
//
// Errors: [ErrCell], that the grid would be too fine, or ctx's.
func Cluster(ctx context.Context, m *mesh.Mesh, normal func(vertex uint32) geom.Vec, cell float64, threads int, progress mesh.Progress) (*Level, error) {
	if !(cell > 0) || math.IsInf(cell, 0) {
		return nil, fmt.Errorf("lod: cell %v: %w", cell, ErrCell)
	}
	c := &clusterer{ctx: ctx, m: m, normal: normal, threads: threads}
	box := bounds(m, threads)
	var ok bool
	if c.grid, ok = newCells(box, cell); !ok {
		size := box.Size()
		return nil, fmt.Errorf("lod: a cell of %v mm is too small for a part of %.4g mm", cell, max(size.X, size.Y, size.Z))
	}
	for _, step := range []struct {
		do   func(mesh.Progress) error
		upTo float64
	}{{c.sort, 0.4}, {c.gather, 0.7}, {c.faces, 1}} {
		if err := step.do(progress.Part(c.done, step.upTo)); err != nil {
			return nil, err
		}
		c.done = step.upTo
	}
	level := c.level // by itself: what it was made with is not kept
	return &level, nil
}

// bounds is the box of the mesh's finite vertices, found on several threads.
func bounds(m *mesh.Mesh, threads int) geom.Box {
	boxes := make([]geom.Box, (len(m.Vertices)+vertexRun-1)/vertexRun)
	parallel.Chunks(context.Background(), len(m.Vertices), vertexRun, threads, nil, func(_, chunk, lo, hi int) {
		box := geom.BoxOf(m.Vertices[lo:hi])
		if !box.Lo.IsFinite() || !box.Hi.IsFinite() {
			box = geom.EmptyBox()
			for _, p := range m.Vertices[lo:hi] {
				if p.IsFinite() {
					box = box.Extend(p)
				}
			}
		}
		boxes[chunk] = box
	})
	box := geom.EmptyBox()
	for _, b := range boxes {
		box = box.Union(b)
	}
	return box
}

type clusterer struct {
	ctx     context.Context
	m       *mesh.Mesh
	normal  func(vertex uint32) geom.Vec
	threads int
	grid    cells
	done    float64

	order  []uint32 // vertices by block of cells, those of one block in the mesh's order
	starts []uint32 // where blocks begin in it, and its end
	border []bool
	level  Level
}

// sort puts the vertices in the order of their blocks and finds the borders.
func (c *clusterer) sort(progress mesh.Progress) error {
	err := parallel.Chunks(c.ctx, 2, 1, c.threads, progress, func(_, task, _, _ int) {
		if task == 0 {
			c.distribute()
		} else {
			c.border = bordering(c.m)
		}
	})
	if err != nil {
		return err
	}
	return c.ctx.Err()
}

// distribute sorts the vertices by block, stably, so that runs and threads leave no trace.
func (c *clusterer) distribute() {
	n, blocks := len(c.m.Vertices), c.grid.blocks()
	size := max(vertexRun, (n+mostRuns-1)/mostRuns)
	runs := (n + size - 1) / size
	of := make([]uint16, n)
	c.order = make([]uint32, n)
	pages.Huge(of)
	pages.Huge(c.order)
	next := make([]uint32, runs*blocks) // for every run and block: how many, then where the next goes
	each := func(do func(next []uint32, lo, hi int)) error {
		return parallel.Chunks(c.ctx, n, size, c.threads, nil, func(_, run, lo, hi int) {
			do(next[run*blocks:(run+1)*blocks], lo, hi)
		})
	}
	if each(func(next []uint32, lo, hi int) {
		for i := lo; i < hi; i++ {
			block, _ := c.grid.of(&c.m.Vertices[i])
			of[i] = uint16(block)
			next[block]++
		}
	}) != nil {
		return
	}
	c.starts = make([]uint32, blocks+1)
	var sum uint32
	for block := range blocks {
		c.starts[block] = sum
		for at := block; at < len(next); at += blocks {
			sum, next[at] = sum+next[at], sum
		}
	}
	c.starts[blocks] = sum
	_ = each(func(next []uint32, lo, hi int) { // the caller asks the context
		for i := lo; i < hi; i++ {
			at := &next[of[i]]
			c.order[*at] = uint32(i)
			*at++
		}
	})
}

// bordering finds the vertices on a border. Around a vertex inside a surface every
// neighbour follows once and is followed once, so that the differences of the
// neighbours' numbers add up to zero; on a border two are left over.
func bordering(m *mesh.Mesh) []bool {
	sum := make([]uint32, len(m.Vertices)) // differences add up to zero where they wrap around as well
	pages.Huge(sum)
	for i := range m.Faces {
		t := &m.Faces[i]
		a, b, c := t[0], t[1], t[2]
		sum[a] += b - c
		sum[b] += c - a
		sum[c] += a - b
	}
	border := make([]bool, len(sum))
	for i, s := range sum {
		border[i] = s != 0
	}
	return border
}

// group is what becomes one vertex.
type group struct {
	cell            uint64 // in its block
	members, rims   uint32
	facing, normals geom.Vec
	sum             geom.Vec // of the members, then their middle
	rim             geom.Vec // sum of those on a border
}

// table finds the groups of a block by their cell: their number in it and one more, in the first free place from where their cell is looked for.
type table []uint32

// fit empties the table and returns it with more places than there are vertices.
func (t table) fit(vertices int) table {
	places := 1 << bits.Len(uint(2*vertices))
	if places > cap(t) {
		return make(table, places)
	}
	t = t[:places]
	clear(t)
	return t
}

// made are the vertices of a few blocks.
type made struct {
	vertices, normals []geom.Vec
	members           []uint32
	moved             float64 // squared
}

// grow makes room for what a block adds, and for as much of some of those to come when there is none.
func (m *made) grow(more, blocks int) {
	if cap(m.vertices)-len(m.vertices) < more {
		m.vertices = slices.Grow(m.vertices, more*min(blocks, 4))
		m.normals, m.members = slices.Grow(m.normals, more*min(blocks, 4)), slices.Grow(m.members, more*min(blocks, 4))
	}
}

// gather makes a vertex, or one for either side of a sheet, of every cell.
func (c *clusterer) gather(progress mesh.Progress) error {
	blocks := c.grid.blocks()
	chunks := make([]made, (blocks+blockRun-1)/blockRun)
	c.level.Of = make([]uint32, len(c.m.Vertices))
	pages.Huge(c.level.Of)
	type room struct {
		groups []group
		table  table
	}
	rooms := make([]room, parallel.Threads(c.threads))
	err := parallel.Chunks(c.ctx, blocks, blockRun, c.threads, progress.Part(0, 0.9), func(worker, chunk, lo, hi int) {
		r, to := &rooms[worker], &chunks[chunk]
		for block := lo; block < hi; block++ {
			run := c.order[c.starts[block]:c.starts[block+1]]
			if len(run) == 0 {
				continue
			}
			r.table = r.table.fit(len(run))
			r.groups = c.join(run, r.groups[:0], r.table)
			for i := range r.groups {
				r.groups[i].setMiddle()
			}
			from := uint32(len(to.vertices))
			to.grow(len(r.groups), hi-block)
			for _, v := range run {
				of := &c.level.Of[v]
				if d := r.groups[*of].sum.Sub(c.m.Vertices[v]).Norm2(); d > to.moved {
					to.moved = d
				}
				*of += from
			}
			for i := range r.groups {
				g := &r.groups[i]
				to.vertices, to.normals, to.members = append(to.vertices, g.sum), append(to.normals, g.normals.Unit()), append(to.members, g.members)
			}
		}
	})
	if err != nil {
		return err
	}
	base := make([]int, len(chunks)+1)
	for chunk := range chunks {
		base[chunk+1] = base[chunk] + len(chunks[chunk].vertices)
		c.level.Moved = max(c.level.Moved, math.Sqrt(chunks[chunk].moved))
	}
	n := base[len(chunks)]
	c.level.Mesh = &mesh.Mesh{Vertices: make([]geom.Vec, n)}
	c.level.Normals, c.level.Members = make([]geom.Vec, n), make([]uint32, n)
	err = parallel.Chunks(c.ctx, blocks, blockRun, c.threads, progress.Part(0.9, 1), func(_, chunk, lo, hi int) {
		from := base[chunk]
		for _, v := range c.order[c.starts[lo]:c.starts[hi]] {
			c.level.Of[v] += uint32(from)
		}
		copy(c.level.Mesh.Vertices[from:], chunks[chunk].vertices)
		copy(c.level.Normals[from:], chunks[chunk].normals)
		copy(c.level.Members[from:], chunks[chunk].members)
	})
	if err != nil {
		return err
	}
	progress.Report(1)
	return c.ctx.Err()
}

// join puts the vertices of a block into groups, which t, empty, finds.
func (c *clusterer) join(run []uint32, groups []group, t table) []group {
	shift := 64 - bits.Len(uint(len(t)-1))
	for _, v := range run {
		p, normal := &c.m.Vertices[v], c.normal(v)
		_, cell := c.grid.of(p)
		var g *group
		for at := cell * spread >> shift; ; at++ {
			if at == uint64(len(t)) {
				at = 0
			}
			k := t[at]
			if k == 0 {
				groups = append(groups, group{cell: cell, facing: normal})
				k = uint32(len(groups))
				t[at] = k
			}
			if g = &groups[k-1]; g.cell == cell && g.facing.Dot(normal) >= 0 {
				c.level.Of[v] = k - 1
				break
			}
		}
		g.sum, g.normals, g.members = g.sum.Add(*p), g.normals.Add(normal), g.members+1
		if c.border[v] {
			g.rim, g.rims = g.rim.Add(*p), g.rims+1
		}
	}
	return groups
}

// spread scatters cells over a table: 2^64 over the golden ratio (Knuth, The Art of Computer Programming, 6.4).
const spread = 0x9e3779b97f4a7c15

func (g *group) setMiddle() {
	g.sum = g.sum.Scale(1 / float64(g.members))
	if g.rims > 0 {
		g.sum = g.rim.Scale(1 / float64(g.rims))
	}
}

// faces keeps the faces whose corners are still three.
func (c *clusterer) faces(progress mesh.Progress) error {
	n := len(c.m.Faces)
	chunks := make([][][3]uint32, (n+faceRun-1)/faceRun)
	kept := make([][][3]uint32, parallel.Threads(c.threads))
	of := c.level.Of
	err := parallel.Chunks(c.ctx, n, faceRun, c.threads, progress, func(worker, chunk, lo, hi int) {
		if kept[worker] == nil {
			kept[worker] = make([][3]uint32, faceRun)
		}
		k := 0
		for i := range c.m.Faces[lo:hi] {
			t := &c.m.Faces[lo+i]
			x, y, z := of[t[0]], of[t[1]], of[t[2]]
			kept[worker][k] = [3]uint32{x, y, z} // written over where it does not stay: a branch could not be foretold
			stays := 1
			if x == y {
				stays = 0
			}
			if y == z {
				stays = 0
			}
			if z == x {
				stays = 0
			}
			k += stays
		}
		chunks[chunk] = slices.Clone(kept[worker][:k])
	})
	if err != nil {
		return err
	}
	c.level.Mesh.Faces = slices.Concat(chunks...)
	return nil
}

// Carry returns the means, over the vertices that each vertex of the level stands for, of those of their codes that are
// known, and whether most were; code is asked by many threads at once. They serve pictures; peaks shrink.
func (l *Level) Carry(code func(vertex uint32) (code uint16, known bool), threads int) ([]float64, []bool) {
	n := len(l.Mesh.Vertices)
	type total struct {
		codes uint64 // whole numbers add up to the same in any order
		count uint64
	}
	totals := make([][]total, parallel.Threads(threads))
	parallel.Chunks(context.Background(), len(l.Of), vertexRun, threads, nil, func(worker, _, lo, hi int) {
		if totals[worker] == nil {
			totals[worker] = make([]total, n)
		}
		mine := totals[worker]
		for i, v := range l.Of[lo:hi] {
			if c, known := code(uint32(lo + i)); known {
				mine[v].codes += uint64(c)
				mine[v].count++
			}
		}
	})
	means, most := make([]float64, n), make([]bool, n)
	for v := range means {
		var all total
		for _, t := range totals {
			if t != nil {
				all.codes, all.count = all.codes+t[v].codes, all.count+t[v].count
			}
		}
		if all.count > 0 {
			means[v] = float64(all.codes) / float64(all.count)
			most[v] = 2*all.count >= uint64(l.Members[v])
		}
	}
	return means, most
}
