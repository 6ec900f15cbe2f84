package meshio

import (
	"encoding/binary"
	"math"

	"shutline/mesh/geom"
)

// readPLY reads the vertices, their normals and colours, and the faces or triangle strips
// of a PLY file. Other elements and properties are skipped by their sizes.
func readPLY(s *source) (*decoded, error) {
	h, err := readPLYHeader(s)
	if err != nil {
		return nil, err
	}
	out := &decoded{}
	r := &plyReader{source: s, in: &indexed{}}
	switch h.format {
	case "ascii":
		out.Format, out.OpenEnd = "PLY text", openEnd(s.data)
		r.rows = &plyText{source: s, text: text{data: s.data, pos: h.body}}
	case "binary_little_endian":
		out.Format = "PLY binary little-endian"
		r.rows = &plyBinary{source: s, pos: h.body, order: binary.LittleEndian}
	default:
		out.Format = "PLY binary big-endian"
		r.rows = &plyBinary{source: s, pos: h.body, order: binary.BigEndian}
	}
	for i := range h.elements {
		if err := r.element(&h.elements[i]); err != nil {
			return nil, err
		}
	}
	if err := r.rows.end(); err != nil {
		return nil, err
	}
	if err := r.checkCorners(); err != nil {
		return nil, err
	}
	return out, out.weld(s, r.in)
}

// plyRows reads one row after the other from text or binary data.
type plyRows interface {
	// row fills values with the columns that are not lists and appends the
	// values of the list at column listed to list; other lists are skipped.
	row(e *plyElement, row int, values []float64, listed int, list []int64) ([]int64, error)
	at() (pos int)
	end() error
}

type plyReader struct {
	*source
	in   *indexed
	rows plyRows
}

// minBytes is the least a row takes: a list may be empty but has a count.
func (e *plyElement) minBytes(text bool) int {
	n := 0
	for _, p := range e.properties {
		switch {
		case text:
			n += 2 // a digit and a blank
		case p.count != 0:
			n += p.count.size()
		default:
			n += p.value.size()
		}
	}
	return n
}

// element reads a whole table. A count that cannot fit what is left of the
// file is refused before anything is allocated.
func (r *plyReader) element(e *plyElement) error {
	if len(e.properties) == 0 || e.rows == 0 {
		return nil
	}
	_, isText := r.rows.(*plyText)
	left := len(r.data) - r.rows.at() + 1 // the last row of a text may lack its line end
	if need := e.minBytes(isText); e.rows > left/need {
		return r.fault(nowhere, "the header says %s rows of element %q, but only %s bytes are left, and a row takes %d or more; it was cut short: export or copy it again",
			count(e.rows), e.name, count(max(left-1, 0)), need)
	}
	if b, ok := r.rows.(*plyBinary); ok {
		var done bool
		var err error
		switch {
		case e.name == "vertex":
			done, err = r.vertices(b, e)
		case e.name == "face" && len(r.in.ends) == 0 && len(r.in.triangles) == 0:
			done, err = r.allTriangles(b, e)
		}
		if done || err != nil {
			return err
		}
	}
	keep := func([]float64, []int64, int) error { return nil }
	listed := -1
	switch e.name {
	case "vertex":
		keep = r.vertex(e)
	case "face":
		if listed = e.list(); listed >= 0 {
			keep = r.face
		}
	case "tristrips":
		if listed = e.list(); listed >= 0 {
			keep = r.strip
		}
	}
	values := make([]float64, len(e.properties))
	var list []int64
	for row := range e.rows {
		if row%facesPerCheck == 0 {
			if err := r.ctx.Err(); err != nil {
				return err
			}
			r.progress.Report(0.7 * float64(r.rows.at()) / float64(len(r.data)))
		}
		var err error
		if list, err = r.rows.row(e, row, values, listed, list[:0]); err != nil {
			return err
		}
		if err := keep(values, list, row); err != nil {
			return err
		}
	}
	return nil
}

// vertex returns what keeps a vertex, its normal and its colour.
func (r *plyReader) vertex(e *plyElement) func([]float64, []int64, int) error {
	x, y, z := e.column("x"), e.column("y"), e.column("z")
	nx, ny, nz := e.column("nx"), e.column("ny"), e.column("nz")
	r.in.points = make([]geom.Vec, 0, e.rows)
	hasNormals := nx >= 0 && ny >= 0 && nz >= 0
	if hasNormals {
		r.in.normals = make([]geom.Vec, 0, e.rows)
	}
	red, green, blue := e.column("red"), e.column("green"), e.column("blue")
	colour := r.colours(e)
	if colour != nil {
		r.in.colours = make([][3]uint8, 0, e.rows)
	}
	return func(v []float64, _ []int64, _ int) error {
		r.in.points = append(r.in.points, geom.Vec{X: v[x], Y: v[y], Z: v[z]})
		if hasNormals {
			r.in.normals = append(r.in.normals, geom.Vec{X: v[nx], Y: v[ny], Z: v[nz]})
		}
		if colour != nil {
			r.in.colours = append(r.in.colours, colour(v[red], v[green], v[blue]))
		}
		return nil
	}
}

// colours returns what makes a colour of the values of red, green and blue, or nil where
// vertices have none.
func (r *plyReader) colours(e *plyElement) func(red, green, blue float64) [3]uint8 {
	var light [3]float64 // what counts as full
	for k, name := range [...]string{"red", "green", "blue"} {
		c := e.column(name)
		if c < 0 {
			return nil
		}
		light[k] = e.properties[c].value.fullLight()
	}
	return func(red, green, blue float64) [3]uint8 {
		return [3]uint8{byteOf(red / light[0]), byteOf(green / light[1]), byteOf(blue / light[2])}
	}
}

// face keeps a polygon; its corners are checked when all vertices are known.
func (r *plyReader) face(_ []float64, list []int64, row int) error {
	for _, v := range list {
		if v < 0 || v >= none {
			return r.badCorner(row, v)
		}
		r.in.corners = append(r.in.corners, uint32(v))
	}
	r.in.ends = append(r.in.ends, len(r.in.corners))
	return nil
}

// strip keeps the triangles of a strip; -1 begins a new one, and every second triangle is turned.
func (r *plyReader) strip(_ []float64, list []int64, row int) error {
	begin := 0
	for i, v := range list {
		if v == -1 {
			begin = i + 1
			continue
		}
		if v < 0 || v >= none {
			return r.badCorner(row, v)
		}
		if i-begin < 2 {
			continue
		}
		a, b := list[i-2], list[i-1]
		if (i-begin)%2 == 1 {
			a, b = b, a
		}
		r.in.corners = append(r.in.corners, uint32(a), uint32(b), uint32(v))
		r.in.ends = append(r.in.ends, len(r.in.corners))
	}
	return nil
}

func (r *plyReader) checkCorners() error {
	lo := 0
	for i, hi := range r.in.ends {
		for _, v := range r.in.corners[lo:hi] {
			if int(v) >= len(r.in.points) {
				return r.badCorner(i, int64(v))
			}
		}
		lo = hi
	}
	return nil
}

func (r *plyReader) badCorner(row int, v int64) error {
	return r.fault(nowhere.of("face %s", count(row)), "it names vertex %s, but the file has vertices 0 to %s; it is damaged: export or copy it again",
		count(int(v)), count(len(r.in.points)-1))
}

// asIndex turns a value into a whole number; anything else becomes one that is out of range.
func asIndex(v float64) int64 {
	if v != math.Trunc(v) || math.Abs(v) > none {
		return none
	}
	return int64(v)
}
