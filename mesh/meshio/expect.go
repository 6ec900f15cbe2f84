package meshio

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
)

// Expected is what a file is about to hold and what reading it takes, told by its size, its head and samples of it.
type Expected struct {
	Faces  int // triangles; of text, some hundredths less than it most likely holds
	Points int // of a file without faces
	Memory int64
}

// What reading takes at its peak, bytes for each triangle, besides the file itself where it is read whole: measured by `make goals-memory`, and rounded down.
var readBytes = map[kind]int64{kindSTLBinary: 32, kindSTLText: 120, kindPLY: 55, kindOBJ: 115, kindGLB: 60}

const (
	// samples of sampleBytes each, spread evenly over a text, tell how many faces it holds to some hundredths;
	// surely is the share of them that is counted.
	samples, sampleBytes = 64, 16 << 10
	surely               = 0.95
	// mostJSON bounds the JSON chunk that is looked at.
	mostJSON = 64 << 20
	// Least bytes that a face and a vertex take in PLY: one that promises more than its size holds is damaged, as its reader says.
	leastFace, leastVertex = 4, 3
)

// Expect looks at a file that is about to be read. Where it tells nothing, or is damaged, all is 0: reading it says why.
func Expect(path string) Expected {
	f, err := open(path)
	if err != nil {
		return Expected{}
	}
	defer f.Close()
	s := &source{path: path, file: f, size: int(f.info.Size())}
	s.head = make([]byte, min(s.size, headBytes))
	if f.at(s.head, 0) != nil {
		return Expected{}
	}
	k, err := detect(s)
	if err != nil {
		return Expected{}
	}
	var e Expected
	switch k {
	case kindSTLBinary:
		if isSizedSTL(s.head, s.size) {
			e.Faces = (s.size - stlHeader) / stlTriangle
		}
	case kindPLY:
		e = s.expectPLY()
	case kindGLB:
		e = s.expectGLB()
	case kindSTLText:
		e.Faces = s.sampled(func(line []byte) int {
			if isWord(line, "endfacet") {
				return 1
			}
			return 0
		})
	case kindOBJ:
		e.Faces = s.sampled(func(line []byte) int {
			if line[0] != 'f' {
				return 0
			}
			return max(0, len(bytes.Fields(line))-3)
		})
		if e.Faces == 0 {
			e.Points = s.sampled(func(line []byte) int {
				if len(line) > 1 && line[0] == 'v' && isSpace(line[1]) {
					return 1
				}
				return 0
			})
		}
	}
	e.Memory = int64(e.Faces+e.Points) * readBytes[k]
	if k != kindSTLBinary && e.Faces+e.Points > 0 {
		e.Memory += int64(s.size)
	}
	return e
}

// sampled counts things of which lines tell, in samples, and returns how many of them the file surely holds.
func (s *source) sampled(things func(line []byte) int) int {
	buf := make([]byte, sampleBytes)
	seen, n := 0, 0
	step := max(sampleBytes, s.size/samples)
	for at := 0; at < s.size; at += step {
		b := buf[:min(sampleBytes, s.size-at)]
		if s.file.at(b, int64(at)) != nil {
			return 0
		}
		l := lines{data: b}
		for l.next() {
			if line := bytes.TrimSpace(l.line); len(line) > 0 {
				n += things(line)
			}
		}
		seen += len(b)
	}
	return int(surely * float64(n) * float64(s.size) / float64(max(seen, 1)))
}

func (s *source) expectPLY() (e Expected) {
	h, err := readPLYHeader(&source{path: s.path, size: s.size, data: s.head})
	if err != nil {
		return e
	}
	for _, t := range h.elements {
		switch t.name {
		case "face":
			e.Faces = t.rows
		case "vertex":
			e.Points = t.rows
		}
	}
	if e.Faces > s.size/leastFace || e.Points > s.size/leastVertex {
		return Expected{}
	}
	if e.Faces > 0 {
		e.Points = 0
	}
	return e
}

// expectGLB counts the triangles of the meshes that nodes carry, each once, or their points.
func (s *source) expectGLB() (e Expected) {
	if len(s.head) < glbHeader+chunkHead || !isSizedGLB(s.head, s.size) {
		return e
	}
	n, kind := binary.LittleEndian.Uint32(s.head[glbHeader:]), binary.LittleEndian.Uint32(s.head[glbHeader+4:])
	if kind != chunkJSON || n > mostJSON || int(n) > s.size-glbHeader-chunkHead {
		return e
	}
	text := make([]byte, n)
	var doc gltfDoc
	if s.file.at(text, glbHeader+chunkHead) != nil || bytes.Count(text, []byte("{")) > maxObjects || json.Unmarshal(text, &doc) != nil {
		return e
	}
	values := func(accessor int) int {
		if accessor < 0 || accessor >= len(doc.Accessors) || doc.Accessors[accessor].Count < 0 || doc.Accessors[accessor].Count > s.size {
			return 0
		}
		return doc.Accessors[accessor].Count
	}
	carried := make([]bool, len(doc.Meshes))
	for _, node := range doc.Nodes {
		if m := node.Mesh; m != nil && *m >= 0 && *m < len(carried) {
			carried[*m] = true
		}
	}
	for k, m := range doc.Meshes {
		if !carried[k] && len(doc.Nodes) > 0 {
			continue
		}
		for _, p := range m.Primitives {
			position, has := p.Attributes["POSITION"]
			if !has {
				continue
			}
			corners := values(position)
			if p.Indices != nil {
				corners = values(*p.Indices)
			}
			switch {
			case p.Mode == nil || *p.Mode == modeTriangles:
				e.Faces += corners / 3
			case *p.Mode == modeStrip || *p.Mode == modeFan:
				e.Faces += max(0, corners-2)
			case *p.Mode == modePoints:
				e.Points += corners
			}
		}
	}
	if e.Faces > 0 {
		e.Points = 0
	}
	return e
}
