package seamfind

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/section"
)

// Ground is a mesh made ready for centring paths in its gaps. Goroutines may share it.
type Ground struct {
	mesh  *mesh.Mesh
	tree  *bvh.Tree
	index *section.Index
}

// New indexes a mesh. The errors are those of [bvh.Build] and [section.New].
func New(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Ground, error) {
	tree, err := bvh.Build(ctx, m, threads, progress)
	if err != nil {
		return nil, err
	}
	index, err := section.New(ctx, m, tree)
	if err != nil {
		return nil, err
	}
	return &Ground{m, tree, index}, nil
}

// outward returns the area-weighted mean direction of the faces about p that look
// roughly along u and lie no deeper or higher than a hem, as at a station; u where there are none.
func (g *Ground) outward(p, u geom.Vec) geom.Vec {
	const reach, height = 20.0, 6.0
	var sum geom.Vec
	g.tree.FacesIn(geom.Box{Lo: p, Hi: p}.Grow(reach), func(f uint32) {
		a, b, c := g.mesh.Corners(f)
		q, _ := geom.ClosestOnTriangle(p, a, b, c)
		d := q.Sub(p)
		n := b.Sub(a).Cross(c.Sub(a))
		if h := d.Dot(u); h > height || h < -height || d.Norm2() > reach*reach || n.Dot(u) <= 0.5*n.Norm() {
			return
		}
		sum = sum.Add(n)
	})
	if sum == (geom.Vec{}) {
		return u
	}
	return sum.Unit()
}
