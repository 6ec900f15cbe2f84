package bvh

import (
	"math"

	"shutline/mesh/geom"
)

// leafSize is the largest number of triangles in a leaf.
const leafSize = 4

// maxDepth bounds the depth of a tree: splitDepth levels of the heuristic, below which
// ranges of at most 2^31 triangles are halved by count.
const (
	splitDepth = 56
	maxDepth   = splitDepth + 32
)

// ref points at a node, or, with leafBit set, at a run of triangles: the
// count less one in the lowest three bits and the first triangle above them.
type ref uint32

const leafBit ref = 1 << 31

func leafRef(start, count int) ref { return leafBit | ref(start)<<3 | ref(count-1) }

func (r ref) run() (start, end int) {
	start = int(r &^ leafBit >> 3)
	return start, start + int(r&7) + 1
}

// maxTriangles is what a leaf's reference can address.
const maxTriangles = 1 << 28

// box is an axis-aligned box relative to the tree's origin, rounded outward.
type box struct{ lo, hi [3]float32 }

// node holds the boxes of its two children beside each other: 64 bytes, one cache line.
type node struct {
	child [2]box
	to    [2]ref
	up    uint32 // parent and, in the lowest bit, which child of it this is; noParent at the root
	_     uint32
}

const noParent = math.MaxUint32

// triangle is a face's corners in float64, kept in the order of the leaves.
type triangle struct{ a, b, c geom.Vec }

// Tree is the index of one mesh. Goroutines may share it.
type Tree struct {
	origin geom.Vec // what boxes are relative to, so that float32 has digits left far from zero
	grain  float64  // mm, far above the float64 rounding of coordinates and distances, far below a float32's
	nodes  []node
	root   ref
	bounds box
	tri    []triangle
	face   []uint32 // the mesh's face of each triangle
}

// Len returns the number of faces in the tree.
func (t *Tree) Len() int { return len(t.face) }

// Bytes returns the memory the tree holds.
func (t *Tree) Bytes() int { return len(t.nodes)*64 + len(t.tri)*72 + len(t.face)*4 }

// down and up round to float32 without ever rising or falling, respectively.
func down(x float64) float32 {
	f := float32(x)
	if float64(f) > x {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

func up(x float64) float32 {
	f := float32(x)
	if float64(f) < x {
		f = math.Nextafter32(f, float32(math.Inf(1)))
	}
	return f
}

// grainOf is 2^-44 of the largest coordinate: 500 ulps of float64.
func grainOf(b geom.Box) float64 {
	return max(b.Hi.X, b.Hi.Y, b.Hi.Z, -b.Lo.X, -b.Lo.Y, -b.Lo.Z) / (1 << 44)
}

// below and above widen by one step more, for inputs that were themselves rounded.
func below(x float64) float32 { return math.Nextafter32(down(x), float32(math.Inf(-1))) }
func above(x float64) float32 { return math.Nextafter32(up(x), float32(math.Inf(1))) }

func (b *box) overlaps(o *box) bool {
	return b.lo[0] <= o.hi[0] && o.lo[0] <= b.hi[0] && b.lo[1] <= o.hi[1] && o.lo[1] <= b.hi[1] &&
		b.lo[2] <= o.hi[2] && o.lo[2] <= b.hi[2]
}

func emptyBox() box {
	inf := float32(math.Inf(1))
	return box{[3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}}
}

func (b *box) join(o *box) {
	for k := range 3 {
		b.lo[k] = min(b.lo[k], o.lo[k])
		b.hi[k] = max(b.hi[k], o.hi[k])
	}
}

func (b *box) halfArea() float32 {
	x, y, z := b.hi[0]-b.lo[0], b.hi[1]-b.lo[1], b.hi[2]-b.lo[2]
	return x*y + y*z + z*x
}
