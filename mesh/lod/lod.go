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
	"shutline/mesh/morton"
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
	faceRun   = 1 << 15
	cellBits  = 21 // of a cell's number along each axis
)

// Cluster joins the vertices that share a cell of a cubic grid, given by its side in
// mm, and face the same way; normal returns unit normals of the vertices, to many threads at once. No vertex moves by
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
	c := &clusterer{ctx: ctx, m: m, normal: normal, cell: cell, threads: threads, box: bounds(m, threads)}
	if size := c.box.Size(); len(m.Vertices) > 0 && max(size.X, size.Y, size.Z)/cell >= 1<<cellBits {
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
	return &c.level, nil
}

// bounds is the mesh's box, found on several threads.
func bounds(m *mesh.Mesh, threads int) geom.Box {
	boxes := make([]geom.Box, (len(m.Vertices)+vertexRun-1)/vertexRun)
	parallel.Chunks(context.Background(), len(m.Vertices), vertexRun, threads, nil, func(_, chunk, lo, hi int) {
		boxes[chunk] = geom.BoxOf(m.Vertices[lo:hi])
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
	cell    float64
	threads int
	box     geom.Box
	done    float64

	order  []morton.Entry // vertices by cell
	starts []int          // where runs of one cell begin in it, and its end
	border []bool
	level  Level
}

// sort puts the vertices in the order of their cells and finds the borders.
func (c *clusterer) sort(progress mesh.Progress) error {
	n := len(c.m.Vertices)
	c.order = make([]morton.Entry, n)
	pages.Huge(c.order)
	// Numbers of no more bits than the cells need are sorted in fewer passes.
	size := c.box.Size()
	xBits := bits.Len64(uint64(max(0, size.X/c.cell)))
	yBits := xBits + bits.Len64(uint64(max(0, size.Y/c.cell)))
	err := parallel.Chunks(c.ctx, n, vertexRun, c.threads, progress.Part(0, 0.3), func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			d := c.m.Vertices[i].Sub(c.box.Lo)
			x, y, z := uint64(d.X/c.cell), uint64(d.Y/c.cell), uint64(d.Z/c.cell)
			c.order[i] = morton.Entry{Key: x | y<<xBits | z<<yBits, Index: uint32(i)}
		}
	})
	if err != nil {
		return err
	}
	err = parallel.Chunks(c.ctx, 2, 1, c.threads, nil, func(_, task, _, _ int) {
		if task == 0 {
			c.order = morton.Sort(c.order, c.threads)
		} else {
			c.border = bordering(c.m)
		}
	})
	if err != nil {
		return err
	}
	progress.Report(0.8)
	cells := 1
	for i := 1; i < n; i++ {
		if c.order[i].Key != c.order[i-1].Key {
			cells++
		}
	}
	c.starts = make([]int, 0, cells+1)
	for i := range c.order {
		if i == 0 || c.order[i].Key != c.order[i-1].Key {
			c.starts = append(c.starts, i)
		}
	}
	c.starts = append(c.starts, n)
	return c.ctx.Err()
}

// bordering finds the vertices on a border. Around a vertex inside a surface every
// neighbour follows once and is followed once, so that the differences of the
// neighbours' numbers add up to zero; on a border two are left over.
func bordering(m *mesh.Mesh) []bool {
	sum := make([]int64, len(m.Vertices))
	pages.Huge(sum)
	for _, t := range m.Faces {
		a, b, c := int64(t[0]), int64(t[1]), int64(t[2])
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
	facing, sum, rim, normals geom.Vec
	middle                    geom.Vec
	members, rims             uint32
}

func (g *group) setMiddle() {
	g.middle = g.sum.Scale(1 / float64(g.members))
	if g.rims > 0 {
		g.middle = g.rim.Scale(1 / float64(g.rims))
	}
}

// gather makes a vertex, or one for either side of a sheet, of every cell.
func (c *clusterer) gather(progress mesh.Progress) error {
	cells := len(c.starts) - 1
	const run = 1 << 12
	chunks := make([][]group, (cells+run-1)/run)
	moved := make([]float64, len(chunks)) // squared
	c.level.Of = make([]uint32, len(c.m.Vertices))
	pages.Huge(c.level.Of)
	err := parallel.Chunks(c.ctx, cells, run, c.threads, progress.Part(0, 0.9), func(_, chunk, lo, hi int) {
		groups := make([]group, 0, hi-lo)
		for k := lo; k < hi; k++ {
			from := len(groups)
			run := c.order[c.starts[k]:c.starts[k+1]]
			for _, e := range run {
				normal := c.normal(e.Index)
				at := pick(groups[from:], normal)
				if at += from; at == len(groups) {
					groups = append(groups, group{facing: normal})
				}
				g, p := &groups[at], c.m.Vertices[e.Index]
				g.sum, g.normals, g.members = g.sum.Add(p), g.normals.Add(normal), g.members+1
				if c.border[e.Index] {
					g.rim, g.rims = g.rim.Add(p), g.rims+1
				}
				c.level.Of[e.Index] = uint32(at)
			}
			for i := range groups[from:] {
				groups[from+i].setMiddle()
			}
			for _, e := range run {
				if d := groups[c.level.Of[e.Index]].middle.Sub(c.m.Vertices[e.Index]).Norm2(); d > moved[chunk] {
					moved[chunk] = d
				}
			}
		}
		chunks[chunk] = groups
	})
	if err != nil {
		return err
	}
	base := make([]int, len(chunks)+1)
	for chunk, groups := range chunks {
		base[chunk+1] = base[chunk] + len(groups)
		c.level.Moved = max(c.level.Moved, math.Sqrt(moved[chunk]))
	}
	n := base[len(chunks)]
	c.level.Mesh = &mesh.Mesh{Vertices: make([]geom.Vec, n)}
	c.level.Normals, c.level.Members = make([]geom.Vec, n), make([]uint32, n)
	err = parallel.Chunks(c.ctx, cells, run, c.threads, progress.Part(0.9, 1), func(_, chunk, lo, hi int) {
		from := base[chunk]
		for _, e := range c.order[c.starts[lo]:c.starts[hi]] {
			c.level.Of[e.Index] += uint32(from)
		}
		for i := range chunks[chunk] {
			g := &chunks[chunk][i]
			c.level.Mesh.Vertices[from+i], c.level.Normals[from+i], c.level.Members[from+i] = g.middle, g.normals.Unit(), g.members
		}
	})
	if err != nil {
		return err
	}
	progress.Report(1)
	return c.ctx.Err()
}

// pick returns the first group that faces the same way, or their number.
func pick(groups []group, normal geom.Vec) int {
	for i := range groups {
		if groups[i].facing.Dot(normal) >= 0 {
			return i
		}
	}
	return len(groups)
}

// faces keeps the faces whose corners are still three.
func (c *clusterer) faces(progress mesh.Progress) error {
	n := len(c.m.Faces)
	chunks := make([][][3]uint32, (n+faceRun-1)/faceRun)
	err := parallel.Chunks(c.ctx, n, faceRun, c.threads, progress, func(_, chunk, lo, hi int) {
		var kept [][3]uint32
		for _, t := range c.m.Faces[lo:hi] {
			f := [3]uint32{c.level.Of[t[0]], c.level.Of[t[1]], c.level.Of[t[2]]}
			if f[0] != f[1] && f[1] != f[2] && f[2] != f[0] {
				kept = append(kept, f)
			}
		}
		chunks[chunk] = kept
	})
	if err != nil {
		return err
	}
	c.level.Mesh.Faces = slices.Concat(chunks...)
	return nil
}

// Carry returns the means, over the vertices that each vertex of the level stands for, of
// those values that are known, and whether most were. They serve pictures; peaks shrink.
func (l *Level) Carry(values []float64, known []bool) ([]float64, []bool) {
	sum, count := make([]float64, len(l.Mesh.Vertices)), make([]int, len(l.Mesh.Vertices))
	for i, v := range l.Of {
		if known[i] {
			sum[v] += values[i]
			count[v]++
		}
	}
	most := make([]bool, len(sum))
	for v, n := range count {
		if n > 0 {
			sum[v] /= float64(n)
			most[v] = 2*n >= int(l.Members[v])
		}
	}
	return sum, most
}
