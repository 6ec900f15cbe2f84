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
	count   int // vertices of the level
	level   Level
}

const (
	pieceRun = 128     // of MostVertices vertices, which 16 bits can name
	cellOne  = 1 << 32 // units of a cell
)

// run is what became of a run of pieces.
type run struct {
	groups   []group
	faces    [][3]uint16       // of groups
	vertices int               // of the pieces
	byPart   []uint16          // groups in the order of their parts of the cells
	parts    [parts + 1]uint16 // where parts begin in that
	first    uint32            // vertex of the level that the run begins
	face     int               // of the level
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
func (g *group) add(at *[3]int32, n *[3]int8) {
	g.members++
	g.normals[0] += int32(n[0])
	g.normals[1] += int32(n[1])
	g.normals[2] += int32(n[2])
	if !g.rim {
		g.place(at)
	}
}

// addRim adds a vertex on a border.
func (g *group) addRim(at *[3]int32, n *[3]int8) {
	g.beRim()
	g.rim = false
	g.add(at, n)
	g.rim = true
}

// place counts a place in.
func (g *group) place(at *[3]int32) {
	g.summed++
	g.sum[0] += int64(at[0])
	g.sum[1] += int64(at[1])
	g.sum[2] += int64(at[2])
}

// beRim makes it one whose place is that of its members on a border.
func (g *group) beRim() {
	if !g.rim {
		g.rim, g.sum, g.summed = true, [3]int64{}, 0
	}
}

// join adds a group of another run.
func (g *group) join(o *group) {
	g.members += o.members
	for k := range 3 {
		g.normals[k] += o.normals[k]
	}
	if o.rim {
		g.beRim()
	} else if g.rim {
		return
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
		j.table.fit(0)
		for piece := lo; piece < hi; piece++ {
			c.pieces.Piece(piece, &j.piece)
			c.joinPiece(j)
			r.vertices += len(j.piece.At)
		}
		r.groups, r.faces = append(r.groups, j.groups...), append(r.faces, j.faces...)
		r.sortByPart()
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
		if p.Rim != nil && p.Rim[v] {
			g.addRim(at, normal)
		} else {
			g.add(at, normal)
		}
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

// parts is how many parts of the cells are merged one by one, with a table that stays in the caches.
const (
	partBits = 4
	parts    = 1 << partBits
)

// sortByPart puts the run's groups in the order of their parts.
func (r *run) sortByPart() {
	for k := range r.groups {
		r.parts[partOf(r.groups[k].cell)+1]++
	}
	for p := range parts {
		r.parts[p+1] += r.parts[p]
	}
	next := r.parts
	r.byPart = make([]uint16, len(r.groups))
	for k := range r.groups {
		at := &next[partOf(r.groups[k].cell)]
		r.byPart[*at] = uint16(k)
		*at++
	}
}

// leader is the first group that becomes a vertex.
type leader struct {
	group *group
	at    uint32 // among all runs' groups
}

// merge joins groups of one cell that face the same way and numbers the level's vertices, in the order of the runs that they begin in.
func (c *clusterer) merge() {
	l := &c.level
	l.runs = make([]vertexRun, len(c.runs))
	at, n := 0, 0
	for i := range c.runs {
		r := &c.runs[i]
		l.runs[i] = vertexRun{at, n}
		at, n = at+r.vertices, n+len(r.groups)
	}
	l.vertex = make([]uint32, n) // the place of its leader, then the vertex
	type merger struct {
		table   table
		leaders []leader
	}
	mergers := make([]merger, parallel.Threads(c.threads))
	c.each(parts, 1, func(worker, part, _, _ int) {
		m := &mergers[worker]
		m.leaders = m.leaders[:0]
		some := 0
		for i := range c.runs {
			some += int(c.runs[i].parts[part+1] - c.runs[i].parts[part])
		}
		m.table.fit(some)
		for i := range c.runs {
			r := &c.runs[i]
			first := l.runs[i].group
			for _, k := range r.byPart[r.parts[part]:r.parts[part+1]] {
				g := &r.groups[k]
				at := uint32(first + int(k))
				slot := m.table.slot(g.cell)
				for ; ; slot = m.table.next(slot) {
					k := m.table.at[slot]
					if k == 0 {
						m.leaders = append(m.leaders, leader{g, at})
						m.table.at[slot] = uint32(len(m.leaders))
						l.vertex[at] = at
						break
					}
					if of := &m.leaders[k-1]; of.group.cell == g.cell && of.group.like(&g.facing) {
						of.group.join(g)
						l.vertex[at] = of.at
						break
					}
				}
			}
		}
	})
	next := uint32(0)
	for i := range c.runs {
		r := &c.runs[i]
		r.first = next
		from := l.runs[i].group
		for k := from; k < from+len(r.groups); k++ {
			if of := l.vertex[k]; int(of) == k {
				l.vertex[k] = next
				next++
			} else {
				l.vertex[k] = l.vertex[of]
			}
		}
	}
	c.count = int(next)
}

// vertices puts every vertex in its place.
func (c *clusterer) vertices() {
	l, n := &c.level, c.count
	l.Mesh = &mesh.Mesh{Vertices: make([]geom.Vec, n)}
	l.Normals, l.Members = make([]geom.Vec, n), make([]uint32, n)
	c.each(len(c.runs), 1, func(_, i, _, _ int) {
		r := &c.runs[i]
		next := r.first
		for k := range r.groups {
			if l.vertex[l.runs[i].group+k] != next {
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
		of, k := c.level.vertex[c.level.runs[i].group:], 0
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
		of := c.level.vertex[c.level.runs[i].group:]
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
