package meshio

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// WriteSTL writes m as binary STL in millimetres, corners rounded to float32.
// A point cloud cannot be written: STL has no points. Nothing in it depends on
// the time or the machine. It returns an error when a corner does not fit a
// float32, or what w returns.
func WriteSTL(w io.Writer, m *mesh.Mesh) error {
	const perWrite = 1 << 12
	if len(m.Faces) == 0 {
		return fmt.Errorf("meshio: a mesh without faces cannot be written as STL")
	}
	if uint64(len(m.Faces)) > math.MaxUint32 {
		return fmt.Errorf("meshio: %s faces are more than STL can count", count(len(m.Faces)))
	}
	buf := make([]byte, stlHeader, stlHeader+perWrite*stlTriangle)
	copy(buf, "binary STL, millimetres") // never "solid": readers take that for text
	binary.LittleEndian.PutUint32(buf[80:], uint32(len(m.Faces)))
	for f := range m.Faces {
		n := m.AreaNormal(uint32(f)).Unit()
		a, b, c := m.Corners(uint32(f))
		for _, v := range [...]geom.Vec{n, a, b, c} {
			for _, x := range [...]float64{v.X, v.Y, v.Z} {
				if !(math.Abs(x) <= math.MaxFloat32) {
					return fmt.Errorf("meshio: face %d: coordinate %g does not fit an STL file", f, x)
				}
				buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(float32(x)))
			}
		}
		buf = append(buf, 0, 0)
		if f%perWrite == perWrite-1 || f == len(m.Faces)-1 {
			if _, err := w.Write(buf); err != nil {
				return fmt.Errorf("meshio: write STL: %w", err)
			}
			buf = buf[:0]
		}
	}
	return nil
}
