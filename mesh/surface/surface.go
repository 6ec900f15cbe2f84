// Package surface answers what lies closest on a triangle mesh, and on which
// side of it a point is: the tree over its triangles together with the
// pseudonormals of its faces, edges and vertices and its open borders.
package surface

import (
	"context"
	"errors"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Surface is a mesh made ready for closest-point questions. Goroutines may share it.
type Surface struct {
	Mesh *mesh.Mesh
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

// New indexes a mesh. It returns an error when the mesh has no faces, or ctx's.
func New(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Surface, error) {
	return nil, errors.New("surface: not built yet")
}

// Finder answers closest-point questions for one goroutine and remembers the
// last answer, so that neighbouring questions asked in turn are quick. The
// answers do not depend on what was asked before.
type Finder struct{ s *Surface }

// NewFinder returns a finder for one goroutine.
func (s *Surface) NewFinder() *Finder { return &Finder{s: s} }

// Closest returns the closest point within the given distance in mm.
func (f *Finder) Closest(p geom.Vec, within float64) (Hit, bool) { return Hit{}, false }

// ClosestFacing is Closest over those faces only whose unit normal n satisfies
// n·facing >= minCos.
func (f *Finder) ClosestFacing(p, facing geom.Vec, minCos, within float64) (Hit, bool) {
	return Hit{}, false
}

// Ray returns the first face that origin + s*dir meets for s > 0, and s.
func (f *Finder) Ray(origin, dir geom.Vec) (s float64, face uint32, ok bool) { return 0, 0, false }

// FacesIn calls visit for every face whose box overlaps the box.
func (s *Surface) FacesIn(box geom.Box, visit func(face uint32)) {}
