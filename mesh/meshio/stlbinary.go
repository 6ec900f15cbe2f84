package meshio

import (
	"encoding/binary"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	batch = 16 // triangles whose table slots are fetched together, so that their misses overlap
	// facesPerCheck are welded between two looks at the context: some milliseconds.
	facesPerCheck = 1 << 15
)

// readSTLBinary reads 84 + 50 n bytes; any other size is refused with both numbers.
func readSTLBinary(s *source) (*decoded, error) {
	if len(s.data) < stlHeader {
		return nil, s.fault(nowhere, "its %d bytes are fewer than the 84 of an STL header; it was cut short: export or copy it again", len(s.data))
	}
	if !isSizedSTL(s.data) {
		n, holds := binary.LittleEndian.Uint32(s.data[80:]), (len(s.data)-stlHeader)/stlTriangle
		return nil, s.fault(atByte(80), "the header says %s triangles, but the file's %s bytes hold %s; it is damaged: export or copy it again",
			count(int(n)), count(len(s.data)), count(holds))
	}
	body := s.data[stlHeader:]
	n := len(body) / stlTriangle
	out := &decoded{Loaded: Loaded{Format: "STL binary", FacesInFile: n, VerticesInFile: 3 * n}}
	w := newWelder(n/2+8, hash32)
	faces := make([][3]uint32, 0, n)
	var kept, all tally
	for lo := 0; lo < n; lo += facesPerCheck {
		if err := s.ctx.Err(); err != nil {
			return nil, err
		}
		hi := min(n, lo+facesPerCheck)
		faces, kept = weldTriangles(w, faces, body[lo*stlTriangle:hi*stlTriangle])
		all.notFinite += kept.notFinite
		all.noArea += kept.noArea
		s.progress.Report(0.9 * float64(hi) / float64(n))
	}
	out.DroppedNotFinite, out.DroppedNoArea = all.notFinite, all.noArea
	vertices := make([]geom.Vec, len(w.keys))
	for i, k := range w.keys {
		vertices[i] = vec32(k)
	}
	out.Mesh = &mesh.Mesh{Vertices: vertices, Faces: faces}
	return out, s.ctx.Err()
}

// tally counts dropped faces.
type tally struct{ notFinite, noArea int }

// weldTriangles adds the faces of whole 50-byte records.
func weldTriangles(w *welder[[3]uint32], faces [][3]uint32, body []byte) ([][3]uint32, tally) {
	var dropped tally
	var keys [3 * batch][3]uint32
	var hashes [3 * batch]uint64
	var ids [3 * batch]uint32
	for len(body) > 0 {
		m := 0
		for t := 0; t < batch && len(body) > 0; t++ {
			switch loadTriangle(body[12:48:48], keys[m:m+3:m+3]) {
			case faceNotFinite:
				dropped.notFinite++
			case faceNoArea:
				dropped.noArea++
			default:
				for i := m; i < m+3; i++ {
					hashes[i] = hash32(keys[i])
				}
				m += 3
			}
			body = body[stlTriangle:]
		}
		known := w.find(keys[:m], hashes[:m], ids[:m])
		for i := 0; i < m; i += 3 {
			faces = append(faces, [3]uint32(ids[i:i+3]))
		}
		if known {
			continue
		}
		for i, at := 0, len(faces)-m/3; i < m; i++ {
			if ids[i] == none {
				faces[at+i/3][i%3] = w.add(keys[i], hashes[i])
			}
		}
	}
	return faces, dropped
}

type faceState int

const (
	faceGood faceState = iota
	faceNotFinite
	faceNoArea
)

// loadTriangle reads three corners from 36 bytes and says whether they make a face.
func loadTriangle(b []byte, k [][3]uint32) faceState {
	const exponent, minusZero = 0x7F800000, 0x80000000
	state := faceGood
	for c := range 3 {
		for a := range 3 {
			u := binary.LittleEndian.Uint32(b[12*c+4*a:])
			if u&exponent == exponent {
				state = faceNotFinite
			}
			if u == minusZero {
				u = 0
			}
			k[c][a] = u
		}
	}
	if state == faceGood && noArea(vec32(k[0]), vec32(k[1]), vec32(k[2])) {
		return faceNoArea
	}
	return state
}

func vec32(k [3]uint32) geom.Vec {
	return geom.Vec{
		X: float64(math.Float32frombits(k[0])),
		Y: float64(math.Float32frombits(k[1])),
		Z: float64(math.Float32frombits(k[2])),
	}
}
