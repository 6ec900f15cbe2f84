package meshio

import (
	"bytes"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// readOBJ reads the vertices, normals and faces of an OBJ file; all groups and
// objects make one mesh. Weights, textures and materials are not used; colours
// are kept where every vertex has one.
func readOBJ(s *source) (*decoded, error) {
	pieces := cutLines(s.data, textChunk)
	parts := make([]objPiece, len(pieces))
	err := parallel.Chunks(s.ctx, len(pieces), 1, s.threads, s.progress.Part(0, 0.7), func(_, c, _, _ int) {
		parts[c].read(s, pieces[c][0], pieces[c][1])
	})
	if err != nil {
		return nil, err
	}
	out := &decoded{Loaded: Loaded{Format: "OBJ", OpenEnd: openEnd(s.data)}}
	in := &indexed{}
	var colours [][3]float32
	for i := range parts {
		if parts[i].err != nil {
			return nil, parts[i].err
		}
		in.points = append(in.points, parts[i].points...)
		in.normals = append(in.normals, parts[i].normals...)
		colours = append(colours, parts[i].colours...)
		out.LeftOut += parts[i].leftOut
	}
	if len(in.points) >= none {
		return nil, s.fault(nowhere, "it has more than 4,294,967,294 vertices; cut it into parts")
	}
	if len(in.normals) != len(in.points) {
		in.normals = nil // they belong to corners of faces then, not to points
	}
	if len(colours) == len(in.points) && len(colours) > 0 {
		in.colours = bytesOf(colours) // of all vertices, or of none
	}
	before := 0
	for i := range parts {
		if err := parts[i].resolve(s, in, before); err != nil {
			return nil, err
		}
		before += len(parts[i].points)
	}
	return out, out.weld(s, in)
}

// openEnd reports whether a text does not end with a line end.
func openEnd(data []byte) bool {
	line := bytes.TrimRight(data, "\r\n")
	return len(data) > 0 && len(line) == len(data) || goesOn(line[bytes.LastIndexAny(line, "\r\n")+1:])
}

// cutLines cuts data into pieces of about size bytes that end with a line,
// never between lines that a backslash joins.
func cutLines(data []byte, size int) [][2]int {
	var pieces [][2]int
	lo := 0
	for len(data)-lo > 2*size {
		hi := lo + size
		for hi < len(data) {
			i := bytes.IndexAny(data[hi:], "\r\n")
			if i < 0 {
				hi = len(data)
				break
			}
			hi += i
			joined := hi > 0 && data[hi-1] == '\\'
			if data[hi] == '\r' && hi+1 < len(data) && data[hi+1] == '\n' {
				hi++
			}
			hi++
			if !joined {
				break
			}
		}
		pieces = append(pieces, [2]int{lo, hi})
		lo = hi
	}
	if lo < len(data) || lo == 0 {
		pieces = append(pieces, [2]int{lo, len(data)})
	}
	return pieces
}

// objPiece is what a run of whole lines holds. A corner is a vertex number of
// the file from 0, or, for the file's negative ones, relative + its number
// counted from the piece's first vertex: how many came before is known later.
type objPiece struct {
	points, normals []geom.Vec
	colours         [][3]float32
	refs            []int
	ends            []int
	at              []int // byte where each face begins
	leftOut         int
	err             error
}

const (
	relative     = 1 << 62 // numbers have 18 digits at most
	halfRelative = 1 << 61
)

func (p *objPiece) read(s *source, lo, hi int) {
	l := lines{data: s.data[:hi], pos: lo}
	if lo == 0 {
		l.pos = len(s.data) - len(skipBOM(s.data))
	}
	for k := 1; l.next() && p.err == nil; k++ {
		if k%facesPerCheck == 0 && s.ctx.Err() != nil { // lines that are joined can make a piece as large as the file
			p.err = s.ctx.Err()
			return
		}
		if len(l.line) == 0 || l.line[0] == '#' {
			continue
		}
		line, at := l.line, l.at
		if goesOn(line) {
			line = l.joined()
		}
		p.err = p.statement(s, &text{data: line}, at)
	}
}

// statement reads one line, which begins at byte at.
func (p *objPiece) statement(s *source, t *text, at int) error {
	switch word := t.token(); string(word) {
	case "v":
		v, ok := objPoint(t)
		if !ok {
			return s.fault(atText(at), "a vertex needs three numbers, not %s; %s", excerpt(bytes.TrimSpace(t.data)), advice(t.data))
		}
		p.points = append(p.points, v)
		if c, ok := objColour(t); ok {
			p.colours = append(p.colours, c)
		}
	case "vn":
		v, ok := objPoint(t)
		if !ok {
			return s.fault(atText(at), "a normal needs three numbers, not %s; %s", excerpt(bytes.TrimSpace(t.data)), advice(t.data))
		}
		p.normals = append(p.normals, v)
	case "f", "fo":
		return p.face(s, t, at)
	case "l", "p", "curv", "curv2", "surf":
		p.leftOut++
	default:
		for _, b := range word {
			if b < ' ' {
				return s.fault(atText(at), "it holds bytes that are not text; it is damaged: export or copy it again")
			}
		}
	}
	return nil
}

func advice(line []byte) string {
	if bytes.IndexByte(line, ',') >= 0 {
		return "decimals need a point, not a comma: export it again"
	}
	return "export or copy it again"
}

func objPoint(t *text) (geom.Vec, bool) {
	x, okX := number(t.token())
	y, okY := number(t.token())
	z, okZ := number(t.token())
	return geom.Vec{X: x, Y: y, Z: z}, okX && okY && okZ
}

// objColour reads the red, green and blue that may follow a vertex; a fourth
// number alone is a weight.
func objColour(t *text) (c [3]float32, ok bool) {
	for k := range c {
		word := t.token()
		x, ok := number(word)
		if len(word) == 0 || !ok {
			return c, false
		}
		c[k] = float32(x)
	}
	return c, true
}

// face reads corners such as 7, 7/1, 7//3, 7/1/3 or -1.
func (p *objPiece) face(s *source, t *text, at int) error {
	first := len(p.refs)
	for word := t.token(); len(word) > 0; word = t.token() {
		if word[0] == '#' {
			break
		}
		if (len(p.refs)+1)%facesPerCheck == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		vertex, _, _ := bytes.Cut(word, []byte{'/'})
		n, ok := integer(vertex)
		if !ok || n == 0 {
			return s.fault(atText(at), "%s is not a corner of a face (numbers count from 1, or back from -1); export it again", excerpt(word))
		}
		if n < 0 {
			n += relative + len(p.points)
		} else {
			n--
		}
		p.refs = append(p.refs, n)
	}
	if n := len(p.refs) - first; n < 3 {
		return s.fault(atText(at), "a face has %d corners and needs three; the file was cut short or is damaged: export or copy it again", n)
	}
	p.ends = append(p.ends, len(p.refs))
	p.at = append(p.at, at)
	return nil
}

// resolve appends the faces to in; before is the number of vertices in earlier pieces.
func (p *objPiece) resolve(s *source, in *indexed, before int) error {
	lo := 0
	for i, hi := range p.ends {
		if i%facesPerCheck == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		for k, n := range p.refs[lo:hi] {
			v := n
			if n >= halfRelative {
				if v = n - relative + before; v < 0 {
					typed := s.typedCorner(p.at[i], k)
					return s.fault(atText(p.at[i]), "a face names vertex %s, which counts back from itself, but only %s vertices stand before it; the file was cut short or is damaged: export or copy it again",
						count(typed), count(v-typed))
				}
			}
			if v < 0 || v >= len(in.points) || v > math.MaxUint32 {
				return s.fault(atText(p.at[i]), "a face names vertex %s, but the file has vertices 1 to %s; the file was cut short or is damaged: export or copy it again",
					count(v+1), count(len(in.points)))
			}
			in.corners = append(in.corners, uint32(v))
		}
		in.ends = append(in.ends, len(in.corners))
		lo = hi
	}
	return nil
}

// typedCorner reads vertex k of the face that begins at byte at once more, as it stands in the file.
func (s *source) typedCorner(at, k int) int {
	t := &text{data: s.data, pos: at}
	t.token()
	for word := t.token(); len(word) > 0; word = t.token() {
		vertex, _, _ := bytes.Cut(bytes.TrimRight(word, `\`), []byte{'/'})
		n, ok := integer(vertex)
		if !ok {
			continue // the backslash that joins lines
		}
		if k == 0 {
			return n
		}
		k--
	}
	return 0
}
