package deviation

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Samples are places on the reference at which two scans are compared: the
// vertices of the reference and points between them where those lie far apart.
type Samples struct {
	Mesh    *mesh.Mesh // the reference, its faces cut smaller; every vertex is a sample
	Normals []geom.Vec // unit
	Areas   []float64  // mm², a third of the faces' around each
	Spacing float64    // mm, the square root of the mean area of a sample
	Cut     bool       // false: so many samples would have been needed that they lie further apart than asked
}

const (
	// mostSampleFaces bounds the faces that the reference is cut into: 1.5 million
	// samples, more than two scanners' points on a door tell apart.
	mostSampleFaces = 3_000_000
	// mostCuts bounds the halvings of an edge: a bonnet in two triangles down to 2 mm.
	mostCuts = 12
)

// SampleReference cuts the faces of the reference until no edge is longer than
// step (mm, positive): every edge that is gets its middle, in both of its
// faces alike, so that no cracks open. The error is ctx's.
func SampleReference(ctx context.Context, ref *mesh.Mesh, step float64) (*Samples, error) {
	return sampleReference(ctx, ref, step, mostSampleFaces)
}

func sampleReference(ctx context.Context, ref *mesh.Mesh, step float64, most int) (*Samples, error) {
	m := &mesh.Mesh{Vertices: append([]geom.Vec(nil), ref.Vertices...), Faces: ref.Faces}
	out := &Samples{}
	for range mostCuts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		middles := map[[2]uint32]uint32{}
		faces := make([][3]uint32, 0, len(m.Faces))
		for _, t := range m.Faces {
			faces = cutFace(m, t, step, middles, faces)
			if len(faces) > most {
				break
			}
		}
		if len(faces) > most {
			break
		}
		m.Faces = faces
		if len(middles) == 0 {
			out.Cut = true
			break
		}
	}
	m.Vertices, m.Faces = usedOnly(m)
	out.Mesh, out.Normals, out.Areas = m, m.VertexNormals(), m.VertexAreas()
	area := 0.0
	for _, a := range out.Areas {
		area += a
	}
	if len(out.Areas) > 0 {
		out.Spacing = math.Sqrt(area / float64(len(out.Areas)))
	}
	return out, ctx.Err()
}

// cutFace appends what a face becomes: itself, or two to four faces.
func cutFace(m *mesh.Mesh, t [3]uint32, step float64, middles map[[2]uint32]uint32, faces [][3]uint32) [][3]uint32 {
	var mid [3]uint32 // between corners k and k+1
	var long [3]bool
	n := 0
	for k := range 3 {
		a, b := t[k], t[(k+1)%3]
		if m.Vertices[a].Dist(m.Vertices[b]) <= step {
			continue
		}
		key := [2]uint32{min(a, b), max(a, b)}
		v, known := middles[key]
		if !known {
			v = uint32(len(m.Vertices))
			m.Vertices = append(m.Vertices, m.Vertices[key[0]].Lerp(m.Vertices[key[1]], 0.5))
			middles[key] = v
		}
		mid[k], long[k] = v, true
		n++
	}
	switch n {
	case 0:
		return append(faces, t)
	case 3:
		return append(faces, [3]uint32{t[0], mid[0], mid[2]}, [3]uint32{mid[0], t[1], mid[1]}, [3]uint32{mid[2], mid[1], t[2]}, [3]uint32{mid[0], mid[1], mid[2]})
	case 1:
		for k := range 3 {
			if long[k] {
				return append(faces, [3]uint32{t[k], mid[k], t[(k+2)%3]}, [3]uint32{mid[k], t[(k+1)%3], t[(k+2)%3]})
			}
		}
	}
	for k := range 3 {
		if !long[k] { // the corner c between the two long edges is cut off, the rest halved
			a, b, c := t[k], t[(k+1)%3], t[(k+2)%3]
			bc, ca := mid[(k+1)%3], mid[(k+2)%3]
			return append(faces, [3]uint32{c, ca, bc}, [3]uint32{a, b, bc}, [3]uint32{a, bc, ca})
		}
	}
	return faces
}

// usedOnly drops vertices without a face, such as those a cut that was given up left behind.
func usedOnly(m *mesh.Mesh) ([]geom.Vec, [][3]uint32) {
	at := make([]uint32, len(m.Vertices)) // one more than the new number
	var vertices []geom.Vec
	faces := make([][3]uint32, len(m.Faces))
	for k, t := range m.Faces {
		for c, v := range t {
			if at[v] == 0 {
				vertices = append(vertices, m.Vertices[v])
				at[v] = uint32(len(vertices))
			}
			faces[k][c] = at[v] - 1
		}
	}
	return vertices, faces
}
