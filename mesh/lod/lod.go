// Package lod makes coarser meshes for drawing. Numbers are never read from them.
package lod

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// ErrCell says that a cell's size is not a positive number.
var ErrCell = errors.New("the cell must be a positive number of millimetres")

// Pieces are a mesh cut into pieces that carry their own vertices. Pieces that follow one another should lie close together. What several of
// them share has the same place in each; a vertex may be on a border of the mesh in one only if it is in all.
type Pieces interface {
	// Grid returns the grid that the vertices lie on.
	Grid() Grid
	// Count returns how many pieces there are, and how many vertices they have together.
	Count() (pieces, vertices int)
	// Piece sets to to piece i, which must hold until to is used again; many threads ask, each with a to of its own.
	Piece(i int, to *Piece)
}

// Grid is what vertices are rounded to.
type Grid struct {
	Zero  geom.Vec // mm, of place 0
	Step  float64  // mm
	Reach int32    // the farthest place along any axis, at most 2^24
}

// MostVertices is how many vertices a piece may have.
const MostVertices = 256

// Piece is a run of triangles with their vertices.
type Piece struct {
	First   uint32     // how many vertices the pieces before it have
	At      [][3]int32 // whole steps of the grid, 0 to its reach
	Normals [][3]int8  // of the vertices, in 127ths, unit to within 1 %
	Rim     []bool     // whether vertices lie on a border; nil: none
	Faces   [][3]uint8

	Places [MostVertices][3]int32 // room for At
	Rims   [MostVertices]bool     // room for Rim
}

// Level is a coarser mesh.
type Level struct {
	Mesh    *mesh.Mesh  // its faces in the order of the pieces they are of
	Normals []geom.Vec  // unit, of its vertices
	Members []uint32    // for every vertex how many vertices of the pieces it stands for
	group   []uint16    // for every vertex of the pieces the group of its run
	vertex  []uint32    // for every group of every run the vertex it became
	runs    []vertexRun // of pieces
}

// vertexRun tells where a run's own begin in the lists of a level.
type vertexRun struct{ vertex, group int }

// Of returns the vertex that stands for a vertex of the pieces.
func (l *Level) Of(vertex int) uint32 {
	lo, hi := 0, len(l.runs)
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; l.runs[mid].vertex <= vertex {
			lo = mid
		} else {
			hi = mid
		}
	}
	return l.vertex[l.runs[lo].group+int(l.group[vertex])]
}

// cellBits are the bits of a cell's number along each axis.
const cellBits = 21

// Cluster joins the vertices that share a cell of a cubic grid, given by its side in
// mm, and face the same way. No vertex moves by
// more than a cell's diagonal. Where a cell holds part of a border, its vertex stands on the
// middle of that part, so that borders stay where they are to within a cell. Pieces that fit
// into a cell vanish. A vertex that several pieces share counts in each. The result is the same for any number of threads.
//
// Based on: Rossignac & Borrel, "Multi-resolution 3D approximations" (1993).
//
// Errors: [ErrCell], that the grid would be too fine, or ctx's.
func Cluster(ctx context.Context, p Pieces, cell float64, threads int) (*Level, error) {
	if !(cell > 0) || math.IsInf(cell, 0) {
		return nil, fmt.Errorf("lod: cell %v: %w", cell, ErrCell)
	}
	c := &clusterer{ctx: ctx, pieces: p, grid: p.Grid(), threads: threads}
	cells := c.grid.Step / cell // in a step
	if float64(float64(c.grid.Reach)*cells) >= 1<<cellBits {
		return nil, fmt.Errorf("lod: a cell of %v mm is too small for a part of %.4g mm", cell, float64(c.grid.Reach)*c.grid.Step)
	}
	c.scale = uint64(min(float64(cells*cellOne), 1<<62))
	for _, step := range []func(){c.join, c.merge, c.vertices, c.faces} {
		step()
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	level := c.level // by itself: what it was made with is not kept
	return &level, nil
}

// clusterer makes a level: within runs of pieces that stay in the nearest caches vertices become groups,
// and faces lose those corners that are one; then groups of one cell are joined across the runs.
type clusterer struct {
	ctx     context.Context
	pieces  Pieces
	grid    Grid
	scale   uint64 // cells in a step, in units of 1/cellOne
	threads int
	runs    []run
	level   Level
}

const (
	pieceRun = 128     // of MostVertices vertices, which 16 bits can name
	cellOne  = 1 << 32 // units of a cell
)

// run is what became of a run of pieces.
type run struct {
	groups   []group
	faces    [][3]uint16 // of groups
	vertices int         // of the pieces
	first    uint32      // vertex of the level among those that the run begins
	firsts   uint32      // how many those are
	group    int         // of all runs
	face     int         // of the level
}

// group is what becomes one vertex.
type group struct {
	cell    uint64
	sum     [3]int64 // of the places of its members, or, when it has some, of those on a border
	summed  uint32   // how many those are
	members uint32
	normals [3]int32
	facing  [3]int8
	rim     bool // some are on a border
}

// like reports whether a normal faces the group's way.
func (g *group) like(n *[3]int8) bool {
	return int32(g.facing[0])*int32(n[0])+int32(g.facing[1])*int32(n[1])+int32(g.facing[2])*int32(n[2]) >= 0
}

// add adds a vertex.
func (g *group) add(at *[3]int32, n *[3]int8, rim bool) {
	g.members++
	for k := range 3 {
		g.normals[k] += int32(n[k])
	}
	if rim != g.rim {
		if !rim {
			return
		}
		g.rim, g.sum, g.summed = true, [3]int64{}, 0
	}
	g.summed++
	for k := range 3 {
		g.sum[k] += int64(at[k])
	}
}

// join adds a group of another run.
func (g *group) join(o *group) {
	g.members += o.members
	for k := range 3 {
		g.normals[k] += o.normals[k]
	}
	if o.rim != g.rim {
		if !o.rim {
			return
		}
		g.rim, g.sum, g.summed = true, [3]int64{}, 0
	}
	g.summed += o.summed
	for k := range 3 {
		g.sum[k] += o.sum[k]
	}
}

// cellOf returns the number of the cell that a place lies in.
func (c *clusterer) cellOf(at *[3]int32) uint64 {
	return uint64(at[0])*c.scale>>32 | uint64(at[1])*c.scale>>32<<cellBits | uint64(at[2])*c.scale>>32<<(2*cellBits)
}

// joiner is what a thread joins with.
type joiner struct {
	piece  Piece
	groups []group
	table  table
	faces  [][3]uint16
}

// join makes the groups of every run.
func (c *clusterer) join() {
	n, vertices := c.pieces.Count()
	c.runs = make([]run, (n+pieceRun-1)/pieceRun)
	c.level.group = make([]uint16, vertices)
	joiners := make([]joiner, parallel.Threads(c.threads))
	c.each(n, pieceRun, func(worker, i, lo, hi int) {
		j, r := &joiners[worker], &c.runs[i]
		j.groups, j.faces = j.groups[:0], j.faces[:0]
		j.table.clear()
		for piece := lo; piece < hi; piece++ {
			c.pieces.Piece(piece, &j.piece)
			c.joinPiece(j)
			r.vertices += len(j.piece.At)
		}
		r.groups, r.faces = append(r.groups, j.groups...), append(r.faces, j.faces...)
	})
}

// joinPiece puts the vertices of a piece into groups and keeps its faces whose corners are still three.
func (c *clusterer) joinPiece(j *joiner) {
	p := &j.piece
	var of [MostVertices]uint16
	for v := range p.At {
		at, normal := &p.At[v], &p.Normals[v]
		cell := c.cellOf(at)
		var g *group
		for slot := j.table.slot(cell); ; slot = j.table.next(slot) {
			k := j.table.at[slot]
			if k == 0 {
				j.groups = append(j.groups, group{cell: cell, facing: *normal})
				k = uint32(len(j.groups))
				j.table.at[slot] = k
			}
			if g = &j.groups[k-1]; g.cell == cell && g.like(normal) {
				of[v] = uint16(k - 1)
				break
			}
		}
		g.add(at, normal, p.Rim != nil && p.Rim[v])
		if 2*len(j.groups) > len(j.table.at) {
			j.table.grow(j.groups)
		}
	}
	copy(c.level.group[p.First:], of[:len(p.At)])
	k := len(j.faces)
	if cap(j.faces)-k < len(p.Faces) {
		j.faces = append(make([][3]uint16, 0, 2*cap(j.faces)+len(p.Faces)), j.faces...)
	}
	faces := j.faces[:k+len(p.Faces)]
	for i := range p.Faces {
		t := &p.Faces[i]
		x, y, z := of[t[0]], of[t[1]], of[t[2]]
		faces[k] = [3]uint16{x, y, z} // written over where it does not stay: a branch could not be foretold
		k += stays(uint32(x), uint32(y), uint32(z))
	}
	j.faces = faces[:k]
}

// stays returns 1 if the corners are three, else 0.
func stays(x, y, z uint32) int {
	n := 1
	if x == y {
		n = 0
	}
	if y == z {
		n = 0
	}
	if z == x {
		n = 0
	}
	return n
}

// merge numbers the level's vertices, in the order of the runs that they begin in.
func (c *clusterer) merge() {
	n := 0
	c.level.runs = make([]vertexRun, len(c.runs))
	at := 0
	for i := range c.runs {
		r := &c.runs[i]
		c.level.runs[i] = vertexRun{at, n}
		r.group = n
		at, n = at+r.vertices, n+len(r.groups)
	}
	c.level.vertex = make([]uint32, n)
	var t table
	t.fit(n)
	leaders := make([]*group, 0, n)
	for i := range c.runs {
		r := &c.runs[i]
		r.first = uint32(len(leaders))
		vertex := c.level.vertex[r.group:]
		for k := range r.groups {
			g := &r.groups[k]
			for slot := t.slot(g.cell); ; slot = t.next(slot) {
				at := t.at[slot]
				if at == 0 {
					leaders = append(leaders, g)
					t.at[slot] = uint32(len(leaders))
					vertex[k] = uint32(len(leaders) - 1)
					break
				}
				if leader := leaders[at-1]; leader.cell == g.cell && leader.like(&g.facing) {
					leader.join(g)
					vertex[k] = at - 1
					break
				}
			}
		}
		r.firsts = uint32(len(leaders)) - r.first
	}
}

// vertices puts every vertex in its place.
func (c *clusterer) vertices() {
	n := 0
	for i := range c.runs {
		n += int(c.runs[i].firsts)
	}
	l := &c.level
	l.Mesh = &mesh.Mesh{Vertices: make([]geom.Vec, n)}
	l.Normals, l.Members = make([]geom.Vec, n), make([]uint32, n)
	c.each(len(c.runs), 1, func(_, i, _, _ int) {
		r := &c.runs[i]
		next := r.first
		for k := range r.groups {
			if l.vertex[r.group+k] != next {
				continue
			}
			g := &r.groups[k]
			one := 1 / float64(g.summed)
			zero := &c.grid.Zero
			l.Mesh.Vertices[next] = geom.Vec{
				X: zero.X + float64(c.grid.Step*float64(float64(g.sum[0])*one)),
				Y: zero.Y + float64(c.grid.Step*float64(float64(g.sum[1])*one)),
				Z: zero.Z + float64(c.grid.Step*float64(float64(g.sum[2])*one)),
			}
			l.Normals[next] = geom.Vec{X: float64(g.normals[0]), Y: float64(g.normals[1]), Z: float64(g.normals[2])}.Unit()
			l.Members[next] = g.members
			next++
		}
	})
}

// faces gives the faces their vertices.
func (c *clusterer) faces() {
	c.each(len(c.runs), 1, func(_, i, _, _ int) { // groups of one run may have become one vertex
		r := &c.runs[i]
		of, k := c.level.vertex[r.group:r.group+len(r.groups)], 0
		for _, t := range r.faces {
			r.faces[k] = t
			k += stays(of[t[0]], of[t[1]], of[t[2]])
		}
		r.faces = r.faces[:k]
	})
	n := 0
	for i := range c.runs {
		c.runs[i].face = n
		n += len(c.runs[i].faces)
	}
	c.level.Mesh.Faces = make([][3]uint32, n)
	c.each(len(c.runs), 1, func(_, i, _, _ int) {
		r := &c.runs[i]
		of := c.level.vertex[r.group:]
		to := c.level.Mesh.Faces[r.face:]
		for k, t := range r.faces {
			to[k] = [3]uint32{of[t[0]], of[t[1]], of[t[2]]}
		}
	})
}

// each runs do side by side; the caller asks the context.
func (c *clusterer) each(n, size int, do func(worker, chunk, lo, hi int)) {
	_ = parallel.Chunks(c.ctx, n, size, c.threads, nil, do)
}
