package mesh

import (
	"context"

	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// VertexNormals returns one unit normal per vertex: the mean of its faces'
// unit normals weighted by the angle each face takes up there (Thürmer &
// Wüthrich 1998). A vertex without faces gets the file's normal, or the zero vector.
// It works on all processors; the result does not depend on how many there are.
func (m *Mesh) VertexNormals() []geom.Vec {
	n, _ := m.VertexNormalsWithin(context.Background()) // which never ends, so neither is there an error
	return n
}

// VertexNormalsWithin is VertexNormals for who may be told to stop; the error is ctx's.
func (m *Mesh) VertexNormalsWithin(ctx context.Context) ([]geom.Vec, error) {
	sum := pages.Make[geom.Vec](len(m.Vertices))
	// What faces give their corners is computed by all threads and added up by one, in the order of the faces: of a run
	// while the next is computed.
	var parts [2][][3]geom.Vec
	for i := range parts {
		parts[i] = make([][3]geom.Vec, min(len(m.Faces), normalRun))
	}
	var before [][3]uint32 // the faces of the run to be added up
	var given [][3]geom.Vec
	add := func() {
		for i, t := range before {
			for k, v := range t {
				sum[v] = sum[v].Add(given[i][k])
			}
		}
	}
	for lo := 0; lo < len(m.Faces); lo += normalRun {
		faces, part := m.Faces[lo:min(lo+normalRun, len(m.Faces))], parts[lo/normalRun%2]
		chunks := (len(faces) + normalChunk - 1) / normalChunk
		err := parallel.Chunks(ctx, 1+chunks, 1, 0, nil, func(_, chunk, _, _ int) {
			if chunk == 0 {
				add()
				return
			}
			from := (chunk - 1) * normalChunk
			for i := from; i < min(from+normalChunk, len(faces)); i++ {
				a, b, c := m.Corners(uint32(lo + i))
				n := b.Sub(a).Cross(c.Sub(a)).Unit()
				for k, angle := range CornerAngles(a, b, c) {
					part[i][k] = n.Scale(angle)
				}
			}
		})
		if err != nil {
			return nil, err
		}
		before, given = faces, part
	}
	add()
	err := parallel.Chunks(ctx, len(sum), normalRun, 0, nil, func(_, _, from, to int) {
		for i := from; i < to; i++ {
			sum[i] = sum[i].Unit()
			if sum[i] == (geom.Vec{}) && m.Normals != nil {
				sum[i] = m.Normals[i]
			}
		}
	})
	return sum, err
}

// normalRun is how many faces are computed before they are added up, in parallel chunks of normalChunk.
const normalRun, normalChunk = 1 << 16, 1 << 12

// VertexAreas returns a third of the area of each vertex's faces, in mm².
func (m *Mesh) VertexAreas() []float64 {
	area := pages.Make[float64](len(m.Vertices))
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
	angle := func(u, v geom.Vec) float64 { return geom.Atan2(u.Cross(v).Norm(), u.Dot(v)) }
	return [3]float64{angle(b.Sub(a), c.Sub(a)), angle(c.Sub(b), a.Sub(b)), angle(a.Sub(c), b.Sub(c))}
}
