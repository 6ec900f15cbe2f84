package lod

import (
	"context"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// clusterer makes a level: within runs of pieces, which stay in the nearest caches, vertices become groups
// and faces lose those whose corners became one; then groups of one cell are joined across the runs.
type clusterer struct {
	ctx     context.Context
	pieces  Pieces
	grid    Grid
	scale   uint64 // cells in a step, in 1/cellOne
	threads int
	runs    []run
	joiners []joiner
	count   int // vertices of the level
	level   *Level
}

const (
	pieceRun = 128     // of MostVertices vertices, which 16 bits can name
	cellBits = 21      // of a cell's number along each axis
	cellOne  = 1 << 32 // in a cell
)

// run is what became of a run of pieces.
type run struct {
	from, to int // pieces
	vertices int // of them
	groups   []group
	byPart   []key                 // groups in the order of the parts that their cells are of
	parts    [cellParts + 1]uint16 // where parts begin in that
	faces    [][3]uint16           // of groups
	first    uint32                // vertex of the level that begins with a group of the run
	faceAt   uint32                // in the level
}

func newClusterer(ctx context.Context, p Pieces, cell float64, threads int) *clusterer {
	c := &clusterer{ctx: ctx, pieces: p, grid: p.Grid(), threads: threads, joiners: make([]joiner, parallel.Threads(threads))}
	c.scale = uint64(min(float64(c.grid.Step/cell*cellOne), 1<<62))
	n, vertices := p.Count()
	c.runs = make([]run, (n+pieceRun-1)/pieceRun)
	for i := range c.runs {
		c.runs[i].from, c.runs[i].to = i*pieceRun, min((i+1)*pieceRun, n)
	}
	c.level = &Level{
		Mesh: &mesh.Mesh{}, From: make([]uint32, n+1),
		group: make([]uint16, vertices), begin: make([]begin, len(c.runs)),
	}
	return c
}

func (c *clusterer) release() {
	for i := range c.joiners {
		c.joiners[i].room.release()
	}
}

// each calls do for every run, side by side; the caller asks the context.
func (c *clusterer) each(do func(worker int, r *run, of []uint32)) {
	l := c.level
	_ = parallel.Chunks(c.ctx, len(c.runs), 1, c.threads, nil, func(worker, i, _, _ int) {
		r := &c.runs[i]
		var of []uint32
		if l.vertex != nil {
			of = l.vertex[l.begin[i].group:][:len(r.groups)]
		}
		do(worker, r, of)
	})
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
	room   room
}

// join makes the groups of every run.
func (c *clusterer) join() {
	c.each(func(worker int, r *run, _ []uint32) {
		j := &c.joiners[worker]
		j.groups, j.faces = j.groups[:0], j.faces[:0]
		j.table.fit(0)
		for i := r.from; i < r.to; i++ {
			c.pieces.Piece(i, &j.piece)
			r.vertices += len(j.piece.At)
			before := len(j.faces)
			c.joinPiece(j)
			c.level.From[i] = uint32(len(j.faces) - before)
		}
		r.groups = j.room.hold(j.groups)
		r.faces = append(r.faces, j.faces...)
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
			if g = &j.groups[k-1]; g.cell == cell && like(&g.facing, normal) {
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
	j.faces = slices.Grow(j.faces, len(p.Faces))
	k, faces := len(j.faces), j.faces[:len(j.faces)+len(p.Faces)]
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

// key is what tells which groups of other runs a group is one with.
type key struct {
	cell   uint64
	facing [3]int8
	group  uint16 // of the run
}

// sortByPart lists the run's groups in the order of their parts.
func (r *run) sortByPart() {
	for k := range r.groups {
		r.parts[partOf(r.groups[k].cell)+1]++
	}
	for p := range cellParts {
		r.parts[p+1] += r.parts[p]
	}
	next := r.parts
	r.byPart = make([]key, len(r.groups))
	for k := range r.groups {
		g := &r.groups[k]
		at := &next[partOf(g.cell)]
		r.byPart[*at] = key{g.cell, g.facing, uint16(k)}
		*at++
	}
}

// leader is the first of the groups that become one vertex.
type leader struct {
	key
	run uint32
	at  uint32 // among the groups of all runs
}

// merge joins groups of one cell that face the same way.
func (c *clusterer) merge() {
	l := c.level
	vertices, groups := 0, 0
	for i := range c.runs {
		l.begin[i] = begin{vertices, groups}
		vertices, groups = vertices+c.runs[i].vertices, groups+len(c.runs[i].groups)
	}
	l.vertex = make([]uint32, groups)
	type merger struct {
		table   table
		leaders []leader
	}
	mergers := make([]merger, parallel.Threads(c.threads))
	_ = parallel.Chunks(c.ctx, cellParts, 1, c.threads, nil, func(worker, part, _, _ int) {
		m := &mergers[worker]
		some := 0
		for i := range c.runs {
			some += int(c.runs[i].parts[part+1] - c.runs[i].parts[part])
		}
		m.table.fit(some)
		m.leaders = slices.Grow(m.leaders[:0], some)
		for i := range c.runs {
			r := &c.runs[i]
			for _, k := range r.byPart[r.parts[part]:r.parts[part+1]] {
				at := uint32(l.begin[i].group + int(k.group))
				for slot := m.table.slot(k.cell); ; slot = m.table.next(slot) {
					n := m.table.at[slot]
					if n == 0 {
						m.leaders = append(m.leaders, leader{k, uint32(i), at})
						m.table.at[slot] = uint32(len(m.leaders))
						l.vertex[at] = at
						break
					}
					if of := &m.leaders[n-1]; of.cell == k.cell && like(&of.facing, &k.facing) {
						c.runs[of.run].groups[of.group].join(&r.groups[k.group])
						l.vertex[at] = of.at
						break
					}
				}
			}
		}
	})
}

// number numbers the level's vertices in the order of their leaders, which lie close to those they follow.
func (c *clusterer) number() {
	of, next := c.level.vertex, uint32(0)
	for i := range c.runs {
		r := &c.runs[i]
		r.first = next
		from := c.level.begin[i].group
		for k := from; k < from+len(r.groups); k++ {
			if leader := of[k]; int(leader) != k {
				of[k] = of[leader]
				continue
			}
			of[k] = next
			next++
		}
	}
	c.count = int(next)
}

// vertices puts every vertex in its place.
func (c *clusterer) vertices() {
	l := c.level
	l.Mesh.Vertices = make([]geom.Vec, c.count)
	l.Normals, l.Members = make([][3]int8, c.count), make([]uint32, c.count)
	c.each(func(_ int, r *run, of []uint32) {
		next := r.first
		for k := range r.groups {
			if g := &r.groups[k]; of[k] == next {
				l.Mesh.Vertices[next] = g.middle(&c.grid)
				l.Normals[next] = g.normal()
				l.Members[next] = g.members
				next++
			}
		}
	})
}

// faces gives the faces their vertices.
func (c *clusterer) faces() {
	l := c.level
	c.each(func(_ int, r *run, of []uint32) { // groups of one run may have become one vertex
		at, k := 0, 0
		for i := r.from; i < r.to; i++ {
			from := k
			for _, t := range r.faces[at : at+int(l.From[i])] {
				r.faces[k] = t
				k += stays(of[t[0]], of[t[1]], of[t[2]])
			}
			at += int(l.From[i])
			l.From[i] = uint32(k - from)
		}
		r.faces = r.faces[:k]
	})
	n := uint32(0)
	for i := range c.runs {
		c.runs[i].faceAt = n
		n += uint32(len(c.runs[i].faces))
	}
	l.From[len(l.From)-1] = n
	l.Mesh.Faces = make([][3]uint32, n)
	c.each(func(_ int, r *run, of []uint32) {
		at := r.faceAt
		for k, t := range r.faces {
			l.Mesh.Faces[int(at)+k] = [3]uint32{of[t[0]], of[t[1]], of[t[2]]}
		}
		for i := r.from; i < r.to; i++ {
			l.From[i], at = at, at+l.From[i]
		}
	})
}
