package meshio

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
)

// The container: a header of 12 bytes, then chunks of 8 bytes and their data.
// Source: glTF 2.0 specification, section 4 (Khronos Group, 2021).
const (
	glbHeader  = 12
	chunkHead  = 8
	glbMagic   = "glTF"
	chunkJSON  = 0x4E4F534A
	chunkBIN   = 0x004E4942
	glbVersion = 2
)

// maxObjects bounds the nodes, meshes and accessors of a file: each takes far more memory than its
// text, and is read in one go. A scan has a handful, a whole vehicle some ten thousand.
const maxObjects = 1 << 18

// readGLB reads the triangles, or the points when there are no triangles, of the default scene
// of a glTF 2.0 binary file, each carried by its nodes. Materials, textures, cameras, lights and
// animations are not used.
func readGLB(s *source) (*decoded, error) {
	text, textAt, bin, err := s.chunks()
	if err != nil {
		return nil, err
	}
	if n := bytes.Count(text, []byte("{")); n > maxObjects {
		return nil, s.fault(atByte(textAt), "its JSON describes %s things, over the limit of %s; join its parts and export it again", count(n), count(maxObjects))
	}
	g := &gltf{source: s, bin: bin, at: textAt}
	if err := json.Unmarshal(text, &g.doc); err != nil {
		return nil, g.jsonFault(err)
	}
	out := &decoded{Loaded: Loaded{Format: "GLB"}, formatUnit: Metre}
	in := &indexed{}
	if err := g.check(); err != nil {
		return nil, err
	}
	if err := g.scene(in, out); err != nil {
		return nil, err
	}
	s.progress.Report(0.7)
	if len(g.colours) == len(in.points) {
		in.colours = g.colours
	}
	if len(g.normals) == len(in.points) {
		in.normals = g.normals
	}
	return out, out.weld(s, in)
}

// chunks returns the JSON chunk, where it begins, and the binary one, which may be missing.
func (s *source) chunks() (text []byte, textAt int, bin []byte, err error) {
	d := s.data
	if len(d) < glbHeader+chunkHead {
		return nil, 0, nil, s.fault(atByte(len(d)), "the file ends inside its header; it was cut short: export or copy it again")
	}
	if v := binary.LittleEndian.Uint32(d[4:]); v != glbVersion {
		return nil, 0, nil, s.fault(atByte(4), "it is glTF of version %d, not 2; export it again as glTF 2.0 binary (.glb)", v)
	}
	if n := binary.LittleEndian.Uint32(d[8:]); uint64(n) != uint64(len(d)) {
		return nil, 0, nil, s.fault(atByte(8), "the header says %s bytes, but the file has %s; it was cut short or is damaged: export or copy it again", count(int(n)), count(len(d)))
	}
	for at, k := glbHeader, 0; at < len(d); k++ {
		if len(d)-at < chunkHead {
			return nil, 0, nil, s.fault(atByte(at), "the file ends inside the head of a chunk; it was cut short: export or copy it again")
		}
		n, kind := binary.LittleEndian.Uint32(d[at:]), binary.LittleEndian.Uint32(d[at+4:])
		body := at + chunkHead
		if uint64(n) > uint64(len(d)-body) {
			return nil, 0, nil, s.fault(atByte(at), "a chunk is said to have %s bytes, but only %s are left; it was cut short or is damaged: export or copy it again", count(int(n)), count(len(d)-body))
		}
		part := d[body : body+int(n)]
		switch {
		case k == 0 && kind != chunkJSON:
			return nil, 0, nil, s.fault(atByte(at+4), "its first chunk is not JSON; it is damaged: export or copy it again")
		case k == 0:
			text, textAt = part, body
		case k == 1 && kind == chunkBIN:
			bin = part
		}
		at = body + int(n)
	}
	return text, textAt, bin, nil
}

// jsonFault says where the JSON chunk is wrong.
func (g *gltf) jsonFault(err error) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return g.fault(atByte(g.at+int(syntax.Offset)), "the JSON chunk is damaged: %s; export or copy it again", excerpt([]byte(syntax.Error())))
	case errors.As(err, &kind):
		return g.fault(atByte(g.at+int(kind.Offset)), "in the JSON chunk a %s stands for %s; export it again", excerpt([]byte(kind.Value)), excerpt([]byte(kind.Field)))
	}
	return g.fault(atByte(g.at), "the JSON chunk cannot be read: %s; export or copy it again", excerpt([]byte(err.Error())))
}
