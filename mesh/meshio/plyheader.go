package meshio

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"
	"strings"
)

// plyType is a type of a PLY property.
type plyType uint8

const (
	plyInt8 plyType = iota + 1
	plyUint8
	plyInt16
	plyUint16
	plyInt32
	plyUint32
	plyFloat32
	plyFloat64
)

// Both spellings are common: the original names and those with sizes.
var plyTypes = map[string]plyType{
	"char": plyInt8, "int8": plyInt8, "uchar": plyUint8, "uint8": plyUint8,
	"short": plyInt16, "int16": plyInt16, "ushort": plyUint16, "uint16": plyUint16,
	"int": plyInt32, "int32": plyInt32, "uint": plyUint32, "uint32": plyUint32,
	"float": plyFloat32, "float32": plyFloat32, "double": plyFloat64, "float64": plyFloat64,
}

func (t plyType) size() int { return [...]int{0, 1, 1, 2, 2, 4, 4, 4, 8}[t] }

// fullLight is the value of a colour that is as bright as can be.
func (t plyType) fullLight() float64 {
	switch t {
	case plyFloat32, plyFloat64:
		return 1
	case plyInt16, plyUint16:
		return math.MaxUint16
	}
	return math.MaxUint8
}

func (t plyType) isFloat() bool { return t >= plyFloat32 }

// value reads a binary value.
func (t plyType) value(b []byte, order binary.ByteOrder) float64 {
	switch t {
	case plyInt8:
		return float64(int8(b[0]))
	case plyUint8:
		return float64(b[0])
	case plyInt16:
		return float64(int16(order.Uint16(b)))
	case plyUint16:
		return float64(order.Uint16(b))
	case plyInt32:
		return float64(int32(order.Uint32(b)))
	case plyUint32:
		return float64(order.Uint32(b))
	case plyFloat32:
		return float64(math.Float32frombits(order.Uint32(b)))
	}
	return math.Float64frombits(order.Uint64(b))
}

// plyProperty is a column of an element; count is 0 unless it is a list.
type plyProperty struct {
	name         string
	count, value plyType
}

// plyElement is a table of a PLY file.
type plyElement struct {
	name       string
	rows       int
	properties []plyProperty
}

// column returns the place of a property that is not a list, or -1.
func (e *plyElement) column(name string) int {
	for i, p := range e.properties {
		if p.name == name && p.count == 0 {
			return i
		}
	}
	return -1
}

// list returns the place of the list of a face's corners, or -1.
func (e *plyElement) list() int {
	for i, p := range e.properties {
		if p.count != 0 && (p.name == "vertex_indices" || p.name == "vertex_index") {
			return i
		}
	}
	return -1
}

// plyHeader is what stands before the data.
type plyHeader struct {
	format   string
	elements []plyElement
	body     int // where the data begin
}

// readPLYHeader reads up to and with the line end after "end_header".
func readPLYHeader(s *source) (*plyHeader, error) {
	h := &plyHeader{}
	l := lines{data: s.data}
	l.next() // "ply"
	carriageOnly := l.pos > 0 && s.data[l.pos-1] == '\r'
	for l.next() {
		t := &text{data: l.line}
		word := t.token()
		if string(word) == "end_header" {
			if h.body = l.pos; carriageOnly && l.pos > 0 && s.data[l.pos-1] == '\n' {
				h.body-- // the line ends with CR; the LF after it is data
			}
			return h, s.checkPLYHeader(h, l.at)
		}
		if err := h.line(s, word, t, l.at); err != nil {
			return nil, err
		}
	}
	return nil, s.fault(atText(len(s.data)), "the header has no line \"end_header\"; it was cut short: export or copy it again")
}

func (h *plyHeader) line(s *source, word []byte, t *text, at int) error {
	switch string(word) {
	case "", "comment", "obj_info":
		return nil
	case "format":
		h.format = string(t.token())
		return nil
	case "element":
		name := string(t.token())
		rows, ok := integer(t.token())
		if name == "" || !ok || rows < 0 {
			return s.fault(atText(at), "%s is not \"element NAME COUNT\"; export it again", excerpt(bytes.TrimSpace(t.data)))
		}
		for _, e := range h.elements {
			if e.name == name {
				return s.fault(atText(at), "element %s stands twice in the header; export it again", excerpt([]byte(name)))
			}
		}
		h.elements = append(h.elements, plyElement{name: name, rows: rows})
		return nil
	case "property":
		if len(h.elements) == 0 {
			return s.fault(atText(at), "a property stands before the first element; export it again")
		}
		e := &h.elements[len(h.elements)-1]
		p := plyProperty{}
		kind := string(t.token())
		listed := kind == "list"
		if listed {
			p.count = plyTypes[string(t.token())]
			kind = string(t.token())
		}
		p.value, p.name = plyTypes[kind], string(t.token())
		if p.value == 0 || p.name == "" || listed && (p.count == 0 || p.count.isFloat()) {
			return s.fault(atText(at), "%s is not a property this reader knows; export it again", excerpt(bytes.TrimSpace(t.data)))
		}
		e.properties = append(e.properties, p)
		return nil
	}
	return s.fault(atText(at), "%s is not a line of a PLY header; export it again", excerpt(word))
}

func (s *source) checkPLYHeader(h *plyHeader, at int) error {
	switch h.format {
	case "ascii", "binary_little_endian", "binary_big_endian":
	default:
		return s.fault(atText(at), "its format %s is not ascii, binary_little_endian or binary_big_endian; export it again", excerpt([]byte(h.format)))
	}
	if err := s.checkPLYFaces(h, at); err != nil {
		return err
	}
	for _, e := range h.elements {
		if e.name == "vertex" {
			if e.column("x") < 0 || e.column("y") < 0 || e.column("z") < 0 {
				return s.fault(atText(at), "its vertices have no x, y and z; export it again")
			}
			return nil
		}
	}
	return s.fault(atText(at), "it has no vertices (no element \"vertex\" in the header); export it again")
}

// checkPLYFaces refuses tables of faces under names this reader does not know: without them a
// mesh would pass for a cloud of points.
func (s *source) checkPLYFaces(h *plyHeader, at int) error {
	var lists string
	for i := range h.elements {
		e := &h.elements[i]
		switch {
		case e.name == "tristrips":
			return nil
		case e.name == "face" && e.rows > 0 && e.list() < 0:
			return s.fault(atText(at), "its faces have no list vertex_indices or vertex_index; export it again")
		case e.name == "face":
			return nil
		case e.rows > 0 && namesFaces(e.name) && slices.ContainsFunc(e.properties, func(p plyProperty) bool { return p.count != 0 }):
			lists = e.name
		}
	}
	if lists != "" {
		return s.fault(atText(at), "it has no element face, but an element %s with lists, which are faces under another name; export it again", excerpt([]byte(lists)))
	}
	return nil
}

// namesFaces tells a table of faces by its name; lists of other things, such as range_grid, are left out.
func namesFaces(element string) bool {
	name := strings.ToLower(element)
	return strings.Contains(name, "face") || strings.Contains(name, "triangle") || strings.Contains(name, "polygon")
}
