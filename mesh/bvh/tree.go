package bvh

import (
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// width is the number of children of a node and of triangles in a leaf: the
// float32 lanes of a 256-bit register.
const width = 8

// maxDepth bounds the depth of a tree: splitDepth levels in space, below which
// ranges of at most 2^31 triangles are halved by count.
const (
	splitDepth = 56
	maxDepth   = splitDepth + 32
)

// stackSize is enough for the siblings left waiting on every level.
const stackSize = maxDepth * (width - 1)

// ref points at a node or, with leafBit set, at a leaf.
type ref uint32

const leafBit ref = 1 << 31

func (r ref) leaf() bool    { return r&leafBit != 0 }
func (r ref) index() uint32 { return uint32(r &^ leafBit) }

// maxTriangles is what a leaf's reference can address, with leaves at least half full.
const maxTriangles = 1 << 30 // faces keep the highest bit free

// lanes are eight numbers side by side.
type lanes [width]float32

// wide holds the boxes of its children, relative to the tree's origin, as rows of one
// coordinate each: 256 bytes, four cache lines. In the box alone there is nothing
// that is not below the node (see setAlone). Its layout is known to the kernels.
type wide struct {
	lo, hi [3]lanes
	to     [width]ref
	up     place
	used   uint32 // a bit for every child there is
	alone  struct{ lo, hi [3]float32 }
}

// leaf holds up to eight triangles: corners relative to the tree's origin and the
// unit normal (not a number where a triangle has none), rounded to float32. The
// lanes that are not used lie far outside. Its layout is known to the kernels.
type leaf struct {
	a, b, c, n [3]lanes
	face       [width]uint32
}

// place names a child: the node and, in the lowest three bits, which of its children.
type place uint32

const (
	nowhere place = math.MaxUint32 // above the root
	noFace        = math.MaxUint32
)

// unsure marks a face whose distance, as the kernels find it, may be far too small.
const unsure = 1 << 31

func placeOf(node uint32, child int) place { return place(node<<3 | uint32(child)) }
func (p place) node() uint32               { return uint32(p) >> 3 }
func (p place) child() uint32              { return uint32(p) & 7 }

// Tree is the index of one mesh, which must not change while the tree is used.
// Goroutines may share it.
type Tree struct {
	mesh   *mesh.Mesh
	exact  bool     // what is stored are the mesh's corners to the last bit, and origin is zero
	origin geom.Vec // what stored coordinates are relative to, so that float32 has digits left far from zero
	grain  float64  // mm, far above the float64 rounding of coordinates and distances, far below a float32's
	far    float64  // mm, sum of the greatest coordinates
	round  float64  // mm, what a stored corner may be off by
	error  float64  // mm, what distances found by the kernels may be off by whatever the question
	nodes  []wide
	leaves []leaf
	above  []place // of each leaf
	root   ref

	packedNodes, packedLeaves []packed // of the boxes, only where the kernels are plain Go
}

// Len returns the number of faces in the tree.
func (t *Tree) Len() int { return len(t.mesh.Faces) }

// Bytes returns the memory the tree holds beside its mesh.
func (t *Tree) Bytes() int {
	return len(t.nodes)*256 + len(t.leaves)*(416+4) + (len(t.packedNodes)+len(t.packedLeaves))*64
}

// corners returns the corners of a triangle of a leaf. Where they were stored exactly
// they need not be fetched from the mesh.
func (t *Tree) corners(l *leaf, k uint32) (a, b, c geom.Vec) {
	if !t.exact {
		return t.mesh.Corners(l.face[k] &^ unsure)
	}
	return at(&l.a, k), at(&l.b, k), at(&l.c, k)
}

func at(rows *[3]lanes, k uint32) geom.Vec {
	return geom.Vec{X: float64(rows[0][k]), Y: float64(rows[1][k]), Z: float64(rows[2][k])}
}

// survey returns the box of some points and whether none of them would lose anything as float32.
func survey(ctx context.Context, points []geom.Vec, threads int) (geom.Box, bool, error) {
	boxes := make([]geom.Box, (len(points)+recordRun-1)/recordRun)
	exact := make([]bool, len(boxes))
	err := parallel.Chunks(ctx, len(points), recordRun, threads, nil, func(_, chunk, lo, hi int) {
		boxes[chunk], exact[chunk] = geom.BoxOf(points[lo:hi]), isFloat32(points[lo:hi])
	})
	all := geom.EmptyBox()
	for _, b := range boxes {
		all = all.Union(b)
	}
	return all, !slices.Contains(exact, false), err
}

// isFloat32 reports whether no point would lose anything as float32.
func isFloat32(points []geom.Vec) bool {
	for _, p := range points {
		if float64(float32(p.X)) != p.X || float64(float32(p.Y)) != p.Y || float64(float32(p.Z)) != p.Z {
			return false
		}
	}
	return true
}

// probe is a question as the kernels see it. Its layout is known to them.
type probe struct {
	x, y, z float32    // relative to the tree's origin
	limit   float32    // mm², what is farther is left out
	dir     [3]float32 // the direction asked for, or zero
	mayFace float32    // below this product with dir a face does not face as asked
	faces   float32    // from this product on it does
	scale   float32    // a triangle found at d makes limit (d*scale + slack)²
	slack   float32
	first   uint32 // the lane to begin with, where it makes a difference

	// The box that holds everything within the limit it was made for; see box.
	boxed  float32
	lo, hi [3]float32
}

// box returns the corners of a box that holds everything within the limit.
func (q *probe) box() (lo, hi *[3]float32) {
	if q.boxed != q.limit {
		q.boxed = q.limit
		q.lo, q.hi = q.around(q.limit)
	}
	return &q.lo, &q.hi
}

// around returns the corners of a box that holds everything within a squared distance.
func (q *probe) around(limit float32) (lo, hi [3]float32) {
	// Once more for the roundings of the sums.
	r := float32(float64(math.Sqrt(float64(limit))*(1+4*half32)) +
		float64(2*half32*(math.Abs(float64(q.x))+math.Abs(float64(q.y))+math.Abs(float64(q.z)))))
	return [3]float32{q.x - r, q.y - r, q.z - r}, [3]float32{q.x + r, q.y + r, q.z + r}
}

// half32 is half an ulp of a float32, relative.
const half32 = 1.0 / (1 << 24)

// grainOf is 2^-44 of the largest coordinate: 500 ulps of float64.
func grainOf(b geom.Box) float64 {
	return max(b.Hi.X, b.Hi.Y, b.Hi.Z, -b.Lo.X, -b.Lo.Y, -b.Lo.Z) / (1 << 44)
}
