// Package surface answers what lies closest on a triangle mesh, and on which
// side of it a point is: the tree over its triangles together with the
// pseudonormals of its faces, edges and vertices and its open borders.
package surface

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
)

// ErrNoFaces says that a point cloud was given where a surface is needed.
var ErrNoFaces = errors.New("the mesh has no faces")

// Surface is a mesh made ready for closest-point questions. Goroutines may share it.
type Surface struct {
	Mesh *mesh.Mesh

	tree *bvh.Tree
	fans fans

	skinned sync.Once
	skin    *Skin
}

// Hit is a closest point with its support.
type Hit struct {
	Point    geom.Vec     // mm
	Normal   geom.Vec     // unit angle-weighted pseudonormal of the feature (Bærentzen & Aanæs 2005)
	Distance float64      // mm, unsigned
	Face     uint32       // a face the point lies on
	Feature  geom.Feature // which part of that face
	Border   bool         // the point lies on an open border (cracks up to 0.05 mm count as joined)
}

// New indexes a mesh. It returns an error when the mesh has no faces
// (ErrNoFaces), a corner that is not a vertex, or ctx's.
func New(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Surface, error) {
	if len(m.Faces) == 0 {
		return nil, fmt.Errorf("surface: %w", ErrNoFaces)
	}
	fans, err := newFans(ctx, m, threads)
	if err != nil {
		return nil, err
	}
	progress.Report(0.2)
	tree, err := bvh.Build(ctx, m, threads, progress.Part(0.2, 1))
	if err != nil {
		return nil, err
	}
	return &Surface{Mesh: m, tree: tree, fans: fans}, nil
}

// Tree returns the tree over the mesh's faces.
func (s *Surface) Tree() *bvh.Tree { return s.tree }

// Finder answers closest-point questions for one goroutine and remembers the
// last answer, so that neighbouring questions asked in turn are quick. The
// answers do not depend on what was asked before.
type Finder struct {
	s    *Surface
	near *bvh.Finder
}

// NewFinder returns a finder for one goroutine.
func (s *Surface) NewFinder() *Finder { return &Finder{s: s, near: s.tree.NewFinder()} }

// Leaf names where the last answer was found, for [Finder.StartAt]; ok is false where there was none.
func (f *Finder) Leaf() (leaf uint32, ok bool) { return f.near.Leaf() }

// StartAt makes the next question start where one for a point p, mm, was answered by any finder of the same surface:
// who asks for many points in turn, and for each again and again, keeps what it was answered. It decides speed alone.
func (f *Finder) StartAt(leaf uint32, p geom.Vec) { f.near.StartAt(leaf, p) }

// Closest returns the closest point within the given distance in mm (which may
// be infinite). Of faces equally close, the one with the lowest index is named.
func (f *Finder) Closest(p geom.Vec, within float64) (Hit, bool) {
	return f.hit(f.near.Closest(p, within, nil))
}

// ClosestFacing is Closest over those faces only whose unit normal n satisfies
// n·facing >= minCos; facing must be of unit length. Faces without a direction
// count as n·facing = 0.
func (f *Finder) ClosestFacing(p, facing geom.Vec, minCos, within float64) (Hit, bool) {
	return f.hit(f.near.Closest(p, within, &bvh.Facing{Dir: facing, MinCos: minCos}))
}

// Foot is Closest without the normal, which costs another look at the face: Normal is zero.
func (f *Finder) Foot(p geom.Vec, within float64) (Hit, bool) {
	return f.foot(f.near.Closest(p, within, nil))
}

// FootFacing is ClosestFacing without the normal, as [Finder.Foot].
func (f *Finder) FootFacing(p, facing geom.Vec, minCos, within float64) (Hit, bool) {
	return f.foot(f.near.Closest(p, within, &bvh.Facing{Dir: facing, MinCos: minCos}))
}

// Any reports whether any face lies within the given distance in mm.
func (f *Finder) Any(p geom.Vec, within float64) bool { return f.near.Any(p, within, nil) }

// Ray returns the first face that origin + s*dir meets for s > 0, from either side, and s.
func (f *Finder) Ray(origin, dir geom.Vec) (s float64, face uint32, ok bool) {
	return f.s.tree.Ray(origin, dir, math.Inf(1))
}

// FacesIn calls visit for every face whose box overlaps the box, in an order
// that depends on the mesh alone.
func (s *Surface) FacesIn(box geom.Box, visit func(face uint32)) { s.tree.FacesIn(box, visit) }

func (f *Finder) hit(a bvh.Answer, ok bool) (Hit, bool) {
	if !ok {
		return Hit{}, false
	}
	h := f.s.bare(a)
	h.Normal, h.Border = f.s.support(h)
	return h, true
}

func (f *Finder) foot(a bvh.Answer, ok bool) (Hit, bool) {
	if !ok {
		return Hit{}, false
	}
	h := f.s.bare(a)
	if f.s.onRim(h.Face, h.Feature) {
		_, joined := f.s.acrossCrack(h)
		h.Border = !joined
	}
	return h, true
}

// bare is a hit without what it is supported by.
func (s *Surface) bare(a bvh.Answer) Hit {
	return Hit{Point: a.Point, Distance: math.Sqrt(a.Dist2), Face: a.Face, Feature: s.feature(a)}
}
