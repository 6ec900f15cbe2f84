package meshio

import (
	"encoding/binary"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// plyRun is the number of rows of a binary PLY that one thread reads at a time.
const plyRun = 1 << 14

// field reads one column of a row of known layout.
type field func(row []byte) float64

// fieldAt returns the reader of a value at byte at of a row.
func (t plyType) fieldAt(at int, order binary.ByteOrder) field {
	switch {
	case t == plyFloat32 && order == binary.LittleEndian:
		return func(row []byte) float64 {
			return float64(math.Float32frombits(binary.LittleEndian.Uint32(row[at:])))
		}
	case t == plyFloat64 && order == binary.LittleEndian:
		return func(row []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(row[at:])) }
	}
	return func(row []byte) float64 { return t.value(row[at:], order) }
}

// vertices reads the vertices of a binary PLY side by side where no list makes rows of
// different lengths, and reports whether it did.
func (r *plyReader) vertices(b *plyBinary, e *plyElement) (bool, error) {
	fields, size := make([]field, len(e.properties)), 0
	for c, p := range e.properties {
		if p.count != 0 {
			return false, nil
		}
		fields[c] = p.value.fieldAt(size, b.order)
		size += p.value.size()
	}
	data := b.take(e.rows * size) // element has checked that it is there
	if data == nil {
		return false, nil
	}
	pick := func(names ...string) []field {
		var out []field
		for _, n := range names {
			if c := e.column(n); c >= 0 {
				out = append(out, fields[c])
			}
		}
		return out
	}
	r.in.points = make([]geom.Vec, e.rows)
	xyz, normal := pick("x", "y", "z"), pick("nx", "ny", "nz")
	if len(normal) == 3 {
		r.in.normals = make([]geom.Vec, e.rows)
	}
	colour := r.colours(e)
	rgb := pick("red", "green", "blue")
	if colour != nil {
		r.in.colours = make([][3]uint8, e.rows)
	}
	return true, parallel.Chunks(r.ctx, e.rows, plyRun, r.threads, r.progress.Part(0, 0.3), func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			row := data[i*size : (i+1)*size]
			r.in.points[i] = geom.Vec{X: xyz[0](row), Y: xyz[1](row), Z: xyz[2](row)}
			if r.in.normals != nil {
				r.in.normals[i] = geom.Vec{X: normal[0](row), Y: normal[1](row), Z: normal[2](row)}
			}
			if r.in.colours != nil {
				r.in.colours[i] = colour(rgb[0](row), rgb[1](row), rgb[2](row))
			}
		}
	})
}

// allTriangles reads the faces of a binary PLY side by side where all are triangles and have
// nothing else of changing length, and reports whether it did.
func (r *plyReader) allTriangles(b *plyBinary, e *plyElement) (bool, error) {
	listed, before, size := e.list(), 0, 0
	for c, p := range e.properties {
		switch {
		case c == listed:
			before = size
			size += p.count.size() + 3*p.value.size()
		case p.count != 0:
			return false, nil
		default:
			size += p.value.size()
		}
	}
	if listed < 0 || e.rows > (len(b.data)-b.pos)/size {
		return false, nil
	}
	p := e.properties[listed]
	corners := p.count.size()
	data := b.data[b.pos : b.pos+e.rows*size]
	out := make([][3]uint32, e.rows)
	other := make([]bool, (e.rows+plyRun-1)/plyRun) // chunks with a row that is no triangle, or has an impossible corner
	number := p.count.fieldAt(before, b.order)
	var corner [3]field
	for k := range corner {
		corner[k] = p.value.fieldAt(before+corners+k*p.value.size(), b.order)
	}
	direct := b.order == binary.LittleEndian && (p.value == plyInt32 || p.value == plyUint32)
	err := parallel.Chunks(r.ctx, e.rows, plyRun, r.threads, r.progress.Part(0.3, 0.6), func(_, c, lo, hi int) {
		for i := lo; i < hi; i++ {
			row := data[i*size : (i+1)*size]
			if number(row) != 3 {
				other[c] = true
				return
			}
			for k := range out[i] {
				v := int64(0)
				if direct {
					v = int64(binary.LittleEndian.Uint32(row[before+corners+4*k:]))
				} else {
					v = asIndex(corner[k](row))
				}
				if v < 0 || v >= int64(len(r.in.points)) {
					other[c] = true // the slow way names it
					return
				}
				out[i][k] = uint32(v)
			}
		}
	})
	if err != nil {
		return false, err
	}
	for _, o := range other {
		if o {
			return false, nil
		}
	}
	b.pos += e.rows * size
	r.in.triangles = append(r.in.triangles, out...)
	return true, nil
}
