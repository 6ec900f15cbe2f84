package bodywork

import (
	"shutline/mesh"
	"shutline/mesh/geom"
)

// Together returns several meshes as one.
func Together(parts ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, m := range parts {
		n := uint32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices...)
		for _, f := range m.Faces {
			out.Faces = append(out.Faces, [3]uint32{f[0] + n, f[1] + n, f[2] + n})
		}
	}
	return out
}

// joined returns the meshes as one, leaving out vertices that no face names.
func joined(parts ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, p := range parts {
		index := make([]uint32, len(p.Vertices))
		for _, f := range p.Faces {
			for k, v := range f {
				if index[v] == 0 {
					out.Vertices = append(out.Vertices, p.Vertices[v])
					index[v] = uint32(len(out.Vertices))
				}
				f[k] = index[v] - 1
			}
			out.Faces = append(out.Faces, f)
		}
	}
	return out
}

// Mapped returns a copy with every vertex moved by to.
func Mapped(m *mesh.Mesh, to func(geom.Vec) geom.Vec) *mesh.Mesh {
	out := &mesh.Mesh{Faces: m.Faces, Vertices: make([]geom.Vec, len(m.Vertices))}
	for i, v := range m.Vertices {
		out.Vertices[i] = to(v)
	}
	return out
}

// Without returns a copy without the faces whose middle drop holds.
func Without(m *mesh.Mesh, drop func(c geom.Vec) bool) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		if !drop(a.Add(b).Add(c).Scale(1.0 / 3)) {
			out.Faces = append(out.Faces, m.Faces[f])
		}
	}
	return out
}

// Smoothed returns a copy whose vertices were moved by a share of the way to the
// mean of their neighbours, in so many passes (Laplacian smoothing); borders stay.
func Smoothed(m *mesh.Mesh, share float64, passes int) *mesh.Mesh {
	n := len(m.Vertices)
	border := make([]bool, n)
	edges := map[[2]uint32]int{}
	for _, f := range m.Faces {
		for k := range f {
			a, b := f[k], f[(k+1)%3]
			edges[[2]uint32{min(a, b), max(a, b)}]++
		}
	}
	for e, c := range edges {
		if c == 1 {
			border[e[0]], border[e[1]] = true, true
		}
	}
	out := &mesh.Mesh{Vertices: append([]geom.Vec{}, m.Vertices...), Faces: m.Faces}
	for range passes {
		sum, count := make([]geom.Vec, n), make([]float64, n)
		for _, f := range m.Faces {
			for k := range f {
				// Each inner edge comes twice, once from either face.
				a, b := f[k], f[(k+1)%3]
				sum[a], count[a] = sum[a].Add(out.Vertices[b]), count[a]+1
				sum[b], count[b] = sum[b].Add(out.Vertices[a]), count[b]+1
			}
		}
		for i := range out.Vertices {
			if !border[i] && count[i] > 0 {
				out.Vertices[i] = out.Vertices[i].Lerp(sum[i].Scale(1/count[i]), share)
			}
		}
	}
	return out
}
