package mesh

import (
	"shutline/mesh/geom"
	"shutline/mesh/pages"
)

// Mesh is an indexed triangle mesh, or a point cloud when it has no faces.
// Nothing in it changes after it was built; goroutines may share it.
type Mesh struct {
	Vertices []geom.Vec  // mm
	Faces    [][3]uint32 // corners as indices into Vertices, counter-clockwise seen from outside
	Normals  []geom.Vec  // unit normals a file gave per vertex, or nil
	Colours  [][3]uint8  // red, green, blue a file gave per vertex (sRGB, 0 to 255), or nil; nothing is measured by them
}

// Corners returns the three corners of face f.
func (m *Mesh) Corners(f uint32) (a, b, c geom.Vec) {
	t := m.Faces[f]
	return m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
}

// AreaNormal returns the normal of face f whose length is twice the face's area in mm².
func (m *Mesh) AreaNormal(f uint32) geom.Vec {
	a, b, c := m.Corners(f)
	return b.Sub(a).Cross(c.Sub(a))
}

// Bounds returns the box of all vertices.
func (m *Mesh) Bounds() geom.Box { return geom.BoxOf(m.Vertices) }

// Area returns the total area in mm².
func (m *Mesh) Area() float64 {
	s := 0.0
	for f := range m.Faces {
		s += m.AreaNormal(uint32(f)).Norm()
	}
	return s / 2
}

// Moved returns a copy carried by the motion g; faces and colours are shared with m.
func (m *Mesh) Moved(g geom.Rigid) *Mesh {
	out := &Mesh{Vertices: pages.Make[geom.Vec](len(m.Vertices)), Faces: m.Faces, Colours: m.Colours}
	for i, v := range m.Vertices {
		out.Vertices[i] = g.Apply(v)
	}
	if m.Normals != nil {
		out.Normals = pages.Make[geom.Vec](len(m.Normals))
		for i, n := range m.Normals {
			out.Normals[i] = g.ApplyDir(n)
		}
	}
	return out
}

// Mirrored returns a copy reflected in the plane through the origin square to
// axis (0 x, 1 y, 2 z), with its faces wound the other way so that outside stays outside.
func (m *Mesh) Mirrored(axis int) *Mesh {
	flip := func(v geom.Vec) geom.Vec {
		switch axis {
		case 0:
			v.X = -v.X
		case 1:
			v.Y = -v.Y
		default:
			v.Z = -v.Z
		}
		return v
	}
	out := &Mesh{Vertices: pages.Make[geom.Vec](len(m.Vertices)), Faces: pages.Make[[3]uint32](len(m.Faces)), Colours: m.Colours}
	for i, v := range m.Vertices {
		out.Vertices[i] = flip(v)
	}
	for i, f := range m.Faces {
		out.Faces[i] = [3]uint32{f[0], f[2], f[1]}
	}
	if m.Normals != nil {
		out.Normals = pages.Make[geom.Vec](len(m.Normals))
		for i, n := range m.Normals {
			out.Normals[i] = flip(n)
		}
	}
	return out
}
