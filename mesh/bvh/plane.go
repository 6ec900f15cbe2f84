package bvh

import (
	"math"
	"math/bits"

	"shutline/mesh/geom"
)

// planeProbe is a plane with a margin as the kernels see it, relative to the tree's
// origin. Its layout is known to them.
type planeProbe struct {
	n        [3]float32
	from, to float32
}

// planeError is what products with a plane's normal may be wrong by, relative to the sum of
// their sizes: the normal's rounding, three products and two sums.
const planeError = 6 * half32

// AppendAtPlane appends every face that may reach the plane through a point, square to a
// unit normal, and has a point within a distance in mm of it (infinite: all); some that do not
// may be among them. The order depends on the mesh alone.
func (t *Tree) AppendAtPlane(faces []uint32, point, normal geom.Vec, within float64) []uint32 {
	if !point.IsFinite() || !normal.IsFinite() || !(within >= 0) {
		return faces
	}
	rel := point.Sub(t.origin)
	at := rel.Dot(normal)
	margin := t.round + float64(planeError*(t.far+math.Abs(rel.X)+math.Abs(rel.Y)+math.Abs(rel.Z)))
	q := planeProbe{
		n:    [3]float32{float32(normal.X), float32(normal.Y), float32(normal.Z)},
		from: below(at - margin), to: -below(-at - margin),
	}
	ball := probe{x: float32(rel.X), y: float32(rel.Y), z: float32(rel.Z), limit: float32(math.Inf(1))}
	all := math.IsInf(within, 1)
	if !all {
		d := within + t.round + float64(rounding*(math.Abs(rel.X)+math.Abs(rel.Y)+math.Abs(rel.Z)))
		ball.limit = float32(d * d * (1 + 16*half32))
	}
	var d2 lanes
	var stack [stackSize]ref
	stack[0] = t.root
	for top := 1; top > 0; {
		top--
		r := stack[top]
		if r.leaf() {
			l := &t.leaves[r.index()]
			for mask := planeTriangles(l, &q); mask != 0; mask &= mask - 1 {
				if face := l.face[bits.TrailingZeros32(mask)&(width-1)]; face != noFace {
					faces = append(faces, face&^unsure)
				}
			}
			continue
		}
		n := &t.nodes[r]
		mask := planeBoxes(n, &q) & n.used
		if !all && mask != 0 {
			mask &= boxes(n, nil, &ball, &d2)
		}
		for ; mask != 0; mask &= mask - 1 {
			stack[top] = n.to[bits.TrailingZeros32(mask)&(width-1)]
			top++
		}
	}
	return faces
}
