package mesh

import (
	"math"

	"shutline/mesh/geom"
)

// VertexNormals returns one unit normal per vertex: the mean of its faces'
// unit normals weighted by the angle each face takes up there (Thürmer &
// Wüthrich 1998). A vertex without faces gets the file's normal, or the zero vector.
func (m *Mesh) VertexNormals() []geom.Vec {
	sum := make([]geom.Vec, len(m.Vertices))
	for f := range m.Faces {
		t := m.Faces[f]
		n := m.AreaNormal(uint32(f)).Unit()
		a, b, c := m.Corners(uint32(f))
		angles := CornerAngles(a, b, c)
		for k, v := range t {
			sum[v] = sum[v].AddScaled(angles[k], n)
		}
	}
	for i, s := range sum {
		sum[i] = s.Unit()
		if sum[i] == (geom.Vec{}) && m.Normals != nil {
			sum[i] = m.Normals[i]
		}
	}
	return sum
}

// VertexAreas returns a third of the area of each vertex's faces, in mm².
func (m *Mesh) VertexAreas() []float64 {
	area := make([]float64, len(m.Vertices))
	for f := range m.Faces {
		third := m.AreaNormal(uint32(f)).Norm() / 6
		for _, v := range m.Faces[f] {
			area[v] += third
		}
	}
	return area
}

// CornerAngles returns the angles of triangle a, b, c at its corners, in radians.
func CornerAngles(a, b, c geom.Vec) [3]float64 {
	angle := func(u, v geom.Vec) float64 { return math.Atan2(u.Cross(v).Norm(), u.Dot(v)) }
	return [3]float64{angle(b.Sub(a), c.Sub(a)), angle(c.Sub(b), a.Sub(b)), angle(a.Sub(c), b.Sub(c))}
}
