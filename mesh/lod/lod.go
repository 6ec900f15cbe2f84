// Package lod makes coarser meshes for drawing. Numbers are never read from them.
package lod

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// ErrCell says that a cell's size is not a positive number.
var ErrCell = errors.New("the cell must be a positive number of millimetres")

// Pieces are a mesh cut into pieces that carry their own vertices. Pieces that follow one another should lie close together. What
// several of them share has the same place and normal in each, and is on a border of the mesh in all of them or in none.
type Pieces interface {
	// Grid returns the grid that the vertices lie on.
	Grid() Grid
	// Count returns how many pieces there are, and how many vertices they have together.
	Count() (pieces, vertices int)
	// Piece fills to with piece i. Many threads ask, each with a to of its own.
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

// Piece is some triangles with their vertices.
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
	Mesh    *mesh.Mesh // its faces in the order of the pieces they are of
	Normals [][3]int8  // unit, of its vertices, in 127ths
	Members []uint32   // for every vertex how many vertices of the pieces it stands for
	From    []uint32   // for every piece where its faces begin, and where the last one's end

	group  []uint16 // for every vertex of the pieces its group, of the run of its piece
	vertex []uint32 // for every group of every run the vertex it became
	begin  []begin  // of every run
}

// begin tells where a run's own begins in the lists of a level.
type begin struct{ vertex, group int }

// Of returns the vertex that stands for a vertex of the pieces.
func (l *Level) Of(vertex int) uint32 {
	lo, hi := 0, len(l.begin)
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; l.begin[mid].vertex <= vertex {
			lo = mid
		} else {
			hi = mid
		}
	}
	return l.vertex[l.begin[lo].group+int(l.group[vertex])]
}

// Cluster joins the vertices that share a cell of a cubic grid, given by its side in
// mm, and face the same way. No vertex moves by more than a cell's diagonal. Where a cell holds part of a border, its vertex
// stands on the middle of that part, so that borders stay where they are to within a cell. What fits
// into a cell vanishes. A vertex that several pieces share counts in each. The result is the same for any number of threads.
//
// Based on: Rossignac & Borrel, "Multi-resolution 3D approximations" (1993).
//
// Errors: [ErrCell], that the grid would be too fine, or ctx's.
func Cluster(ctx context.Context, p Pieces, cell float64, threads int) (*Level, error) {
	if !(cell > 0) || math.IsInf(cell, 0) {
		return nil, fmt.Errorf("lod: cell %v: %w", cell, ErrCell)
	}
	grid := p.Grid()
	if float64(grid.Reach)*(grid.Step/cell) >= 1<<cellBits {
		return nil, fmt.Errorf("lod: a cell of %v mm is too small for a part of %.4g mm", cell, float64(grid.Reach)*grid.Step)
	}
	c := newClusterer(ctx, p, cell, threads)
	defer c.release()
	for _, step := range []func(){c.join, c.merge, c.number, c.vertices, c.faces} {
		step()
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	return c.level, nil
}
