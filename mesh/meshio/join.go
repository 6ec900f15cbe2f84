package meshio

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh/geom"
)

const (
	// smallestJoinMM is the smallest tolerance of joining: below it, neighbouring float32 of a
	// part some metres long are not the same place either, and cells would have no exact numbers.
	smallestJoinMM = 1e-6
	// largestJoinMM is far over any rounding of an export, and under the gap of a shut line.
	largestJoinMM = 1
)

func checkJoin(mm float64) error {
	if mm == 0 || mm >= smallestJoinMM && mm <= largestJoinMM {
		return nil
	}
	return fmt.Errorf("meshio: a tolerance of %g mm for joining vertices is not 0 and not between 1e-6 and 1 mm", mm)
}

// joinNear joins vertices of the finished mesh that lie within mm of one another.
//
// Vertices are gone through in order: each is joined to the nearest of the kept ones within
// the tolerance (the earlier of two as near), or is kept. So no vertex moves by more than
// the tolerance, whatever chains they form, kept ones are farther than it from one
// another, and their order stays. Faces that have no area then are dropped.
func (d *decoded) joinNear(ctx context.Context, mm float64) error {
	m := d.Mesh
	near := newNearby(len(m.Vertices), mm)
	number := make([]uint32, len(m.Vertices))
	const perCheck = facesPerCheck / 16 // each looks into up to eight cells
	for i, v := range m.Vertices {
		if i%perCheck == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		number[i] = near.join(v)
	}
	if d.VerticesNear = len(m.Vertices) - len(near.kept); d.VerticesNear == 0 {
		return ctx.Err()
	}
	m.Vertices = near.kept
	var err error
	if m.Colours, err = firstOf(ctx, m.Colours, number, len(near.kept)); err != nil {
		return err
	}
	if m.Normals, err = firstOf(ctx, m.Normals, number, len(near.kept)); err != nil {
		return err
	}
	if len(m.Faces) == 0 {
		return ctx.Err()
	}
	used := make([]bool, len(near.kept))
	kept := m.Faces[:0]
	for i, f := range m.Faces {
		if i%facesPerCheck == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		a, b, c := number[f[0]], number[f[1]], number[f[2]]
		if noArea(m.Vertices[a], m.Vertices[b], m.Vertices[c]) {
			d.DroppedNoArea++
			continue
		}
		kept = append(kept, [3]uint32{a, b, c})
		used[a], used[b], used[c] = true, true, true
	}
	m.Faces = kept
	if err := d.dropUnused(ctx, used); err != nil {
		return err
	}
	if len(kept) == 0 {
		return &FormatError{Path: d.Path, Byte: -1, Problem: fmt.Sprintf("no face is left when vertices within %g mm are joined; the part is too small for that, or its unit is another", mm)}
	}
	return ctx.Err()
}

// nearby finds kept points within a tolerance, by cells twice as large: those
// that a ball of the tolerance touches are two along each axis at most.
type nearby struct {
	mm    float64
	kept  []geom.Vec
	cells *welder[[3]uint64]
	first []uint32 // of each cell, a kept point, or none
	next  []uint32 // of each kept point, another one of its cell, or none
}

func newNearby(n int, mm float64) *nearby {
	return &nearby{mm: mm, cells: newWelder(n, hash64), kept: make([]geom.Vec, 0, n)}
}

func (n *nearby) cell(v geom.Vec) [3]int64 {
	size := 2 * n.mm
	return [3]int64{int64(math.Floor(v.X / size)), int64(math.Floor(v.Y / size)), int64(math.Floor(v.Z / size))}
}

// join returns the number of the kept point that v is joined to, its own if it is kept.
func (n *nearby) join(v geom.Vec) uint32 {
	reach := geom.Vec{X: n.mm, Y: n.mm, Z: n.mm}
	lo, hi := n.cell(v.Sub(reach)), n.cell(v.Add(reach))
	best, at := float64(n.mm*n.mm), uint32(none)
	for x := lo[0]; x <= hi[0]; x++ {
		for y := lo[1]; y <= hi[1]; y++ {
			for z := lo[2]; z <= hi[2]; z++ {
				c, ok := n.cells.number([3]uint64{uint64(x), uint64(y), uint64(z)})
				if !ok {
					continue
				}
				for k := n.first[c]; k != none; k = n.next[k] {
					d := n.kept[k].Sub(v).Norm2()
					if d < best || d == best && k < at {
						best, at = d, k
					}
				}
			}
		}
	}
	if at != none {
		return at
	}
	own := n.cell(v)
	key := [3]uint64{uint64(own[0]), uint64(own[1]), uint64(own[2])}
	c := n.cells.add(key, hash64(key))
	if int(c) == len(n.first) {
		n.first = append(n.first, none)
	}
	k := uint32(len(n.kept))
	n.kept = append(n.kept, v)
	n.next = append(n.next, n.first[c])
	n.first[c] = k
	return k
}
