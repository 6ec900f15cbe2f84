package meshio

import (
	"bytes"
	"encoding/binary"
	"path/filepath"
	"strings"
)

type kind int

const (
	kindSTLBinary kind = iota + 1
	kindSTLText
	kindPLY
	kindOBJ
	kindGLB
)

const (
	stlHeader   = 84 // 80 bytes of text and the number of triangles
	stlTriangle = 50 // normal and three corners as float32, and two bytes of attributes
	// sniffBytes are looked at to tell text from binary data: a binary STL holds
	// zero bytes well before, if not in its header then in its first normals and attributes.
	sniffBytes = 1024
)

// foreign are formats that are recognised and not read, by their first bytes.
var foreign = []struct{ magic, name string }{
	{"PK\x03\x04", "a zip archive (3MF is one)"},
	{"ASTM-E57", "an E57 point file"},
	{"ISO-10303-21", "a STEP file"},
	{"\x1f\x8b", "a gzip archive"},
	{"OFF", "an OFF file"},
	{"LASF", "a LAS point file"},
	{"# .PCD", "a PCD point file"},
	{"<?xml", "an XML file"},
	{"%PDF", "a PDF file"},
}

// pictures are recognised alike: a picture of a part is easily taken for the part.
var pictures = []struct{ magic, name string }{
	{"\x89PNG\r\n\x1a\n", "PNG"},
	{"\xff\xd8\xff", "JPEG"},
	{"GIF8", "GIF"},
	{"II*\x00", "TIFF"},
	{"MM\x00*", "TIFF"},
}

// detect tells the format: by the content first, by the extension second.
func detect(s *source) (kind, error) {
	data := s.head
	// A binary STL begins with 80 bytes of any text, so that its size comes first; the
	// sizes that a GLB file states of itself are as sure.
	if isSizedSTL(data, s.size) && !isSizedGLB(data, s.size) {
		return kindSTLBinary, nil
	}
	for _, f := range foreign {
		if bytes.HasPrefix(data, []byte(f.magic)) {
			return 0, s.unsupported(f.name)
		}
	}
	for _, f := range pictures {
		if bytes.HasPrefix(data, []byte(f.magic)) {
			return 0, s.fault(nowhere, "it is a %s picture, not a mesh; name the mesh itself", f.name)
		}
	}
	if bytes.HasPrefix(data, []byte(glbMagic)) {
		return kindGLB, nil
	}
	if len(data) > 80 && data[72] == 'S' && bytes.Equal(data[73:80], []byte("      1")) {
		return 0, s.unsupported("an IGES file")
	}
	if isUTF16(data) {
		return 0, s.fault(nowhere, "it is text of two bytes a character (UTF-16), which no mesh format is; save it as plain text (UTF-8), or export it again")
	}
	if start := skipBOM(data); len(start) >= 4 && bytes.HasPrefix(start, []byte("ply")) && isSpace(start[3]) {
		return kindPLY, nil
	}
	ext := strings.ToLower(filepath.Ext(s.path))
	binaryData := bytes.IndexByte(data[:min(len(data), sniffBytes)], 0) >= 0
	t := text{data: skipBOM(data)}
	first := t.token()
	switch {
	case binaryData && (ext == ".stl" || isWord(first, "solid")):
		return kindSTLBinary, nil // of the wrong size; its reader says so
	case binaryData:
		return 0, s.fault(nowhere, "it is neither STL, PLY, OBJ nor GLB; export it as one of these")
	case isWord(first, "solid"):
		return kindSTLText, nil
	case ext == ".gltf" || bytes.HasPrefix(first, []byte("{")):
		return 0, s.fault(nowhere, "it is a glTF text file, whose data stand in other files; export it as one binary file (.glb)")
	case looksLikeOBJ(t.data) || ext == ".obj":
		return kindOBJ, nil
	case ext == ".stl":
		return 0, s.fault(nowhere, "it starts with %s: not with \"solid\" (STL text), and is too short or not of the size of STL binary; export it again", excerpt(first))
	case ext == ".ply":
		return 0, s.fault(nowhere, "it does not start with a line \"ply\"; export it again")
	}
	return 0, s.fault(nowhere, "it is neither STL, PLY, OBJ nor GLB; export it as one of these")
}

func (s *source) unsupported(name string) error {
	return s.fault(nowhere, "it is %s, which is not supported; export it as STL, PLY, OBJ or GLB", name)
}

// isSizedSTL reports whether the triangle count of a binary STL fits the file's size exactly.
func isSizedSTL(head []byte, size int) bool {
	return len(head) >= stlHeader &&
		uint64(size) == stlHeader+stlTriangle*uint64(binary.LittleEndian.Uint32(head[80:]))
}

// isSizedGLB reports whether data begin as glTF of version 2 does, with the file's size.
func isSizedGLB(head []byte, size int) bool {
	return len(head) >= glbHeader && bytes.HasPrefix(head, []byte(glbMagic)) &&
		binary.LittleEndian.Uint32(head[4:]) == glbVersion && uint64(binary.LittleEndian.Uint32(head[8:])) == uint64(size)
}

// isUTF16 reports whether data begin with the byte order mark of UTF-16, or, without
// one, with two bytes for each letter.
func isUTF16(data []byte) bool {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return true
	}
	const letters = 4 // "soli", "ply\n", "v 1 "
	if len(data) < 2*letters {
		return false
	}
	for zeros := range 2 {
		wide := true
		for i := range letters {
			letter := data[2*i+1-zeros]
			wide = wide && data[2*i+zeros] == 0 && (letter >= ' ' && letter < 0x7f || letter == '\n' || letter == '\r')
		}
		if wide {
			return true
		}
	}
	return false
}

// looksLikeOBJ reports whether the first statement of a text is one of OBJ's.
func looksLikeOBJ(data []byte) bool {
	lines := lines{data: data[:min(len(data), 64<<10)]}
	for lines.next() {
		t := text{data: lines.line}
		first := t.token()
		if len(first) == 0 || first[0] == '#' {
			continue
		}
		switch string(first) {
		case "v", "vn", "vt", "vp", "f", "o", "g", "s", "l", "p", "mtllib", "usemtl":
			return true
		}
		return false
	}
	return false
}
