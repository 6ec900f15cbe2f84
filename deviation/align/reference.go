package align

import (
	"context"
	"sort"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

const (
	referenceSamples = 30000
)

// reference is the surface with what the fit needs besides the tree.
type reference struct {
	surface *surface.Surface
	mesh    *mesh.Mesh
	box     geom.Box
	diag    float64
	area    float64 // mm²
	centre  geom.Vec
	skin    *surface.Skin
	samples []point // evenly by area, in the reference's frame
	grid    *grid
}

func newReference(ctx context.Context, s *surface.Surface, threads int) *reference {
	m := s.Mesh
	r := &reference{surface: s, mesh: m}
	_ = parallel.Chunks(ctx, 2, 1, threads, nil, func(_, task, _, _ int) {
		if task == 0 {
			r.skin = s.Skin(threads)
		} else {
			r.box, r.area = usedBounds(m), m.Area()
		}
	})
	if ctx.Err() != nil {
		return r
	}
	r.diag, r.centre = r.box.Diagonal(), r.box.Center()
	r.samples = r.sampleFaces(referenceSamples)
	if ctx.Err() != nil {
		return r
	}
	r.grid = newGrid(r.samples, r.box, r.diag)
	return r
}

// usedBounds returns the box of the vertices that faces have.
func usedBounds(m *mesh.Mesh) geom.Box {
	box := geom.EmptyBox()
	in := make([]bool, len(m.Vertices))
	for _, f := range m.Faces {
		for _, v := range f {
			if !in[v] {
				in[v] = true
				box = box.Extend(m.Vertices[v])
			}
		}
	}
	return box
}

// sampleFaces returns n points spread evenly over the area.
func (r *reference) sampleFaces(n int) []point {
	cumulative := pages.Make[float64](len(r.mesh.Faces))
	total := 0.0
	for f := range cumulative {
		total += float64(r.mesh.AreaNormal(uint32(f)).Norm() / 2)
		cumulative[f] = total
	}
	out := make([]point, 0, n)
	for k := range n {
		at := total * (float64(k) + unitHash(1, uint64(k))) / float64(n)
		f := min(sort.SearchFloat64s(cumulative, at), len(cumulative)-1)
		u, v := unitHash(2, uint64(k)), unitHash(3, uint64(k))
		if u+v > 1 {
			u, v = 1-u, 1-v
		}
		a, b, c := r.mesh.Corners(uint32(f))
		q := a.AddScaled(u, b.Sub(a)).AddScaled(v, c.Sub(a))
		p, normal := r.curved(uint32(f), q)
		if normal != (geom.Vec{}) {
			out = append(out, point{p, normal})
		}
	}
	return out
}

// curved carries a point of facet f onto the curved skin that the facet stands
// for, and returns the skin's unit normal there. Facets next to an edge stay flat.
func (r *reference) curved(f uint32, q geom.Vec) (at, normal geom.Vec) {
	at, normal, _ = r.skin.On(f, q)
	return at, normal
}

// places returns where the samples lie.
func (r *reference) places() []geom.Vec {
	out := make([]geom.Vec, len(r.samples))
	for i := range out {
		out[i] = r.samples[i].p
	}
	return out
}
