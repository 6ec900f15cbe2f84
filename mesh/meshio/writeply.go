package meshio

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"

	"shutline/mesh"
)

// Column is a further value of every vertex, for [WritePLY]; one of the two slices is as long as the vertices.
type Column struct {
	Name   string    // one word
	Floats []float64 // written as float32; NaN where a vertex has no value
	Bytes  []uint8
}

// PLYOptions say what WritePLY adds to the mesh.
type PLYOptions struct {
	Comments []string // a line each
	Columns  []Column
}

// WritePLY writes m as binary little-endian PLY in millimetres: vertices as
// doubles, so that reading gives exactly them, normals and colours where the mesh has
// them, the columns, and the faces. A mesh without faces is written as points.
//
// A deviation goes into a column "deviation" beside one "state" with the numbers
// of the states (0 measured). A vertex without a deviation has NaN there: programs that
// show such a column leave it uncoloured, where 0 would look like a perfect point.
//
// Nothing in the file depends on the time or the machine. It returns an error for a vertex
// that is not finite, for columns that do not fit the mesh, or what w returns.
func WritePLY(w io.Writer, m *mesh.Mesh, o PLYOptions) error {
	const flush = 1 << 18
	if len(m.Vertices) == 0 {
		return fmt.Errorf("meshio: a mesh without vertices cannot be written as PLY")
	}
	if len(m.Vertices) > math.MaxInt32 {
		return fmt.Errorf("meshio: %s vertices are more than a PLY file's faces can name", count(len(m.Vertices)))
	}
	b, err := plyWriteHeader(m, o)
	if err != nil {
		return err
	}
	written := func() error {
		if _, err := w.Write(b); err != nil {
			return fmt.Errorf("meshio: write PLY: %w", err)
		}
		b = b[:0]
		return nil
	}
	float := func(x float64) { b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x))) }
	for i, v := range m.Vertices {
		if !v.IsFinite() {
			return fmt.Errorf("meshio: vertex %d is not finite and cannot be written as PLY", i)
		}
		for _, x := range [...]float64{v.X, v.Y, v.Z} {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		}
		if m.Normals != nil {
			float(m.Normals[i].X)
			float(m.Normals[i].Y)
			float(m.Normals[i].Z)
		}
		if m.Colours != nil {
			b = append(b, m.Colours[i][:]...)
		}
		for _, c := range o.Columns {
			if c.Floats != nil {
				float(c.Floats[i])
			} else {
				b = append(b, c.Bytes[i])
			}
		}
		if len(b) > flush {
			if err := written(); err != nil {
				return err
			}
		}
	}
	for _, f := range m.Faces {
		b = append(b, 3)
		for _, v := range f {
			b = binary.LittleEndian.AppendUint32(b, v)
		}
		if len(b) > flush {
			if err := written(); err != nil {
				return err
			}
		}
	}
	return written()
}

func plyWriteHeader(m *mesh.Mesh, o PLYOptions) ([]byte, error) {
	b := []byte("ply\nformat binary_little_endian 1.0\ncomment millimetres\n")
	for _, c := range o.Comments {
		b = fmt.Appendf(b, "comment %s\n", strings.Map(func(r rune) rune {
			if r < ' ' {
				return ' '
			}
			return r
		}, c))
	}
	b = fmt.Appendf(b, "element vertex %d\nproperty double x\nproperty double y\nproperty double z\n", len(m.Vertices))
	fits := func(what string, n int) error {
		if n != len(m.Vertices) {
			return fmt.Errorf("meshio: %s %s for %s vertices", count(n), what, count(len(m.Vertices)))
		}
		return nil
	}
	if m.Normals != nil {
		if err := fits("normals", len(m.Normals)); err != nil {
			return nil, err
		}
		b = append(b, "property float nx\nproperty float ny\nproperty float nz\n"...)
	}
	if m.Colours != nil {
		if err := fits("colours", len(m.Colours)); err != nil {
			return nil, err
		}
		b = append(b, "property uchar red\nproperty uchar green\nproperty uchar blue\n"...)
	}
	for _, c := range o.Columns {
		if c.Name == "" || strings.ContainsFunc(c.Name, func(r rune) bool { return r <= ' ' || r > '~' }) {
			return nil, fmt.Errorf("meshio: a column of a PLY file cannot be named %q", c.Name)
		}
		kind, n := "float", len(c.Floats)
		if c.Floats == nil {
			kind, n = "uchar", len(c.Bytes)
		}
		if err := fits("values of "+c.Name, n); err != nil {
			return nil, err
		}
		b = fmt.Appendf(b, "property %s %s\n", kind, c.Name)
	}
	if len(m.Faces) > 0 {
		b = fmt.Appendf(b, "element face %d\nproperty list uchar int vertex_indices\n", len(m.Faces))
	}
	return append(b, "end_header\n"...), nil
}
