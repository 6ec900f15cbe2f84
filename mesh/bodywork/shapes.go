package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// gridMesh stitches (nu+1) by (nv+1) samples of at; faces look along du x dv.
func gridMesh(nu, nv int, at func(i, k int) geom.Vec) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: make([]geom.Vec, 0, (nu+1)*(nv+1)), Faces: make([][3]uint32, 0, 2*nu*nv)}
	for i := range nu + 1 {
		for k := range nv + 1 {
			m.Vertices = append(m.Vertices, at(i, k))
		}
	}
	w := uint32(nv + 1)
	for i := range uint32(nu) {
		for k := range uint32(nv) {
			a := i*w + k
			m.Faces = append(m.Faces, [3]uint32{a, a + w, a + w + 1}, [3]uint32{a, a + w + 1, a + 1})
		}
	}
	return m
}

// steps returns how many equal steps of at most step a length takes.
func steps(length, step float64) int { return max(1, int(math.Ceil(length/step-1e-9))) }

// Plane returns the rectangle 0..length in X, 0..width in Y at Z = 0, looking along +Z.
func Plane(length, width, spacing float64) *mesh.Mesh {
	nu, nv := steps(length, spacing), steps(width, spacing)
	return gridMesh(nu, nv, func(i, k int) geom.Vec {
		return geom.Vec{X: length * float64(i) / float64(nu), Y: width * float64(k) / float64(nv)}
	})
}

// SpherePatch returns the part of a sphere about the origin around +Z, out to
// half an angle (radians, below pi/2) each way in azimuth and elevation, looking outward.
func SpherePatch(radius, half, spacing float64) *mesh.Mesh {
	n := steps(2*half*radius, spacing)
	return gridMesh(n, n, func(i, k int) geom.Vec {
		su, cu := geom.Sincos(half * (2*float64(i)/float64(n) - 1))
		sv, cv := geom.Sincos(half * (2*float64(k)/float64(n) - 1))
		return geom.Vec{X: radius * su * cv, Y: radius * sv, Z: radius * cu * cv}
	})
}

// CylinderPatch returns the part of a cylinder about the Y axis around +Z, out
// to half an angle (radians) each way, 0..length in Y, looking outward.
func CylinderPatch(radius, half, length, spacing float64) *mesh.Mesh {
	nu, nv := steps(2*half*radius, spacing), steps(length, spacing)
	return gridMesh(nu, nv, func(i, k int) geom.Vec {
		s, c := geom.Sincos(half * (2*float64(i)/float64(nu) - 1))
		return geom.Vec{X: radius * s, Y: length * float64(k) / float64(nv), Z: radius * c}
	})
}

// WithNoise returns a copy whose vertices are moved along their normals by
// seeded noise of the standard deviation sd, mm.
func WithNoise(m *mesh.Mesh, sd float64, seed uint64) *mesh.Mesh {
	normals := m.VertexNormals()
	out := &mesh.Mesh{Vertices: make([]geom.Vec, len(m.Vertices)), Faces: m.Faces}
	for i, p := range m.Vertices {
		random := keyed(seed, 'n', uint64(i))
		out.Vertices[i] = p.AddScaled(sd*random.normal(), normals[i])
	}
	return out
}
