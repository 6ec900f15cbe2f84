package align

import (
	"context"
	"math"
	"sort"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

const (
	referenceSamples = 30000

	// cosSharp: where a corner's normal is more than 20 degrees from its facet,
	// the facet stands for an edge and not for a piece of a curved skin.
	cosSharp = 0.93969262
)

// reference is the surface with what the fit needs besides the tree.
type reference struct {
	surface *surface.Surface
	mesh    *mesh.Mesh
	box     geom.Box
	diag    float64
	area    float64 // mm²
	centre  geom.Vec
	normals []geom.Vec // unit, per vertex
	samples []point    // evenly by area, in the reference's frame
	grid    *grid
}

func newReference(ctx context.Context, s *surface.Surface, threads int) *reference {
	m := s.Mesh
	r := &reference{surface: s, mesh: m}
	_ = parallel.Chunks(ctx, 2, 1, threads, nil, func(_, task, _, _ int) {
		if task == 0 {
			r.normals = curvedNormals(ctx, m)
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

// curvedNormals returns vertex normals that are exact for vertices on a sphere
// and better than area or angle weights on any curved skin.
//
// Based on: Max, "Weights for computing vertex normals from facet normals" (1999).
func curvedNormals(ctx context.Context, m *mesh.Mesh) []geom.Vec {
	sum := make([]geom.Vec, len(m.Vertices))
	for f, t := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return sum
		}
		a, b, c := m.Corners(uint32(f))
		ab, bc, ca := b.Sub(a), c.Sub(b), a.Sub(c)
		n := ab.Cross(bc)
		lab, lbc, lca := ab.Norm2(), bc.Norm2(), ca.Norm2()
		if lab == 0 || lbc == 0 || lca == 0 {
			continue
		}
		sum[t[0]] = sum[t[0]].AddScaled(1/(lab*lca), n)
		sum[t[1]] = sum[t[1]].AddScaled(1/(lab*lbc), n)
		sum[t[2]] = sum[t[2]].AddScaled(1/(lbc*lca), n)
	}
	for i, v := range sum {
		sum[i] = v.Unit()
	}
	return sum
}

// sampleFaces returns n points spread evenly over the area.
func (r *reference) sampleFaces(n int) []point {
	cumulative := make([]float64, len(r.mesh.Faces))
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
//
// The patch is a quadratic one over the corners: its rise is the sum over the
// edges of the barycentric products times what the edge's end normals ask for,
// which is the sag h²/2R of a chord exactly to second order (Boubekeur & Alexa,
// "Phong tessellation", 2008, blended by one half, is the same with the mean of
// both ends). The lesser end counts here: where a flat meets a fillet only one
// end's normal tilts, and a patch from the mean would stand off the flat by up
// to 0.07 mm on 10 mm facets.
func (r *reference) curved(f uint32, q geom.Vec) (geom.Vec, geom.Vec) {
	a, b, c := r.mesh.Corners(f)
	n2 := b.Sub(a).Cross(c.Sub(a))
	l2 := n2.Norm2()
	if !(l2 > 0) {
		return q, geom.Vec{}
	}
	facet := n2.Scale(1 / math.Sqrt(l2))
	t := r.mesh.Faces[f]
	na, nb, nc := r.normals[t[0]], r.normals[t[1]], r.normals[t[2]]
	if na.Dot(facet) < cosSharp || nb.Dot(facet) < cosSharp || nc.Dot(facet) < cosSharp {
		return q, facet
	}
	wa := c.Sub(b).Cross(q.Sub(b)).Dot(n2) / l2
	wb := a.Sub(c).Cross(q.Sub(c)).Dot(n2) / l2
	wc := 1 - wa - wb
	normal := na.Scale(wa).AddScaled(wb, nb).AddScaled(wc, nc).Unit()
	sag := float64(wa*wb*edgeRise(a, b, na, nb)) + float64(wb*wc*edgeRise(b, c, nb, nc)) + float64(wc*wa*edgeRise(c, a, nc, na))
	return q.AddScaled(sag, facet), normal
}

// edgeRise returns how far, times four, a curved skin rises over the middle of
// the edge from a to b, in mm: the lesser of what the normals at both ends say,
// and nothing where they differ in sign.
func edgeRise(a, b, na, nb geom.Vec) float64 {
	e := b.Sub(a)
	atA, atB := -e.Dot(na), e.Dot(nb)
	switch {
	case atA > 0 && atB > 0:
		return min(atA, atB)
	case atA < 0 && atB < 0:
		return max(atA, atB)
	}
	return 0
}
