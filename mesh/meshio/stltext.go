package meshio

import (
	"bytes"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// textChunk is the share of a text file one thread reads at a time.
const textChunk = 1 << 20

// readSTLText reads "solid … endsolid", once or several times.
//
// Pieces of the file are read side by side, each from a word "endfacet" to a
// later one. Whatever goes wrong there is settled by reading the file again
// from the start in one go, which then says what is wrong and where.
func readSTLText(s *source) (*decoded, error) {
	pieces := cutText(s.data, textChunk, []byte("endfacet"))
	parts := make([]facets, len(pieces))
	err := parallel.Chunks(s.ctx, len(pieces), 1, s.threads, s.progress.Part(0, 0.7), func(_, c, _, _ int) {
		parts[c].read(s, pieces[c][0], pieces[c][1], c > 0, c+1 < len(pieces))
	})
	if err != nil {
		return nil, err
	}
	for _, p := range parts {
		if p.err != nil && len(parts) > 1 {
			parts = make([]facets, 1)
			parts[0].read(s, 0, len(s.data), false, false)
			break
		}
	}
	out := &decoded{Loaded: Loaded{Format: "STL text", OpenEnd: openEnd(s.data)}}
	for _, p := range parts {
		if p.err != nil {
			return nil, p.err
		}
		out.FacesInFile += len(p.corners) / 3
		out.Solids += p.solids
	}
	out.VerticesInFile = 3 * out.FacesInFile
	return out, out.weldCorners(s, parts)
}

// cutText cuts data into pieces of about size bytes, each ending after mark in lower or upper case.
func cutText(data []byte, size int, mark []byte) [][2]int {
	var pieces [][2]int
	lo := 0
	for len(data)-lo > 2*size {
		window := data[lo+size : lo+2*size]
		i := bytes.Index(window, mark)
		if i < 0 {
			i = bytes.Index(window, bytes.ToUpper(mark))
		}
		if i < 0 {
			break
		}
		hi := lo + size + i + len(mark)
		pieces = append(pieces, [2]int{lo, hi})
		lo = hi
	}
	return append(pieces, [2]int{lo, len(data)})
}

// weldCorners joins the corners of all pieces in the file's order.
func (d *decoded) weldCorners(s *source, parts []facets) error {
	w := newWelder(d.FacesInFile/2+8, hash64)
	m := &mesh.Mesh{Faces: make([][3]uint32, 0, d.FacesInFile)}
	for i, p := range parts {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		for c := p.corners; len(c) > 0; c = c[3:] {
			if len(c)%facesPerCheck == 0 && s.ctx.Err() != nil {
				return s.ctx.Err()
			}
			switch {
			case !c[0].IsFinite() || !c[1].IsFinite() || !c[2].IsFinite():
				d.DroppedNotFinite++
			case noArea(c[0], c[1], c[2]):
				d.DroppedNoArea++
			default:
				var f [3]uint32
				for j := range f {
					k := key64(c[j])
					f[j] = w.add(k, hash64(k))
				}
				m.Faces = append(m.Faces, f)
			}
		}
		s.progress.Report(0.7 + 0.2*float64(i+1)/float64(len(parts)))
	}
	d.Mesh = m
	var err error
	m.Vertices, err = pointsOf(s, w.keys)
	return err
}

// pointsOf turns keys back into points.
func pointsOf(s *source, keys [][3]uint64) ([]geom.Vec, error) {
	points := make([]geom.Vec, len(keys))
	pages.Huge(points)
	return points, parallel.Chunks(s.ctx, len(keys), facesPerCheck, s.threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			points[i] = vec64(keys[i])
		}
	})
}

func key64(v geom.Vec) [3]uint64 { // x + 0 turns -0 into +0
	return [3]uint64{math.Float64bits(v.X + 0), math.Float64bits(v.Y + 0), math.Float64bits(v.Z + 0)}
}

func vec64(k [3]uint64) geom.Vec {
	return geom.Vec{X: math.Float64frombits(k[0]), Y: math.Float64frombits(k[1]), Z: math.Float64frombits(k[2])}
}

// facets are the corners of a piece of a text STL, three to a face.
type facets struct {
	corners []geom.Vec
	solids  int
	err     error
}

// read reads the words of data[lo:hi]. inside says that a solid is open at lo,
// open that one may still be open at hi.
func (p *facets) read(s *source, lo, hi int, inside, open bool) {
	t := &text{data: s.data[:hi], pos: lo}
	if lo == 0 {
		t.pos = len(s.data) - len(skipBOM(s.data))
	}
	for checked := lo; ; {
		if t.pos-checked > textChunk {
			if checked = t.pos; s.ctx.Err() != nil {
				p.err = s.ctx.Err()
				return
			}
		}
		word := t.token()
		switch {
		case len(word) == 0:
			if inside && !open {
				p.err = s.fault(atText(t.word), "the file ends without \"endsolid\"; it was cut short: export or copy it again")
			}
			return
		case isWord(word, "facet") && inside:
			if p.err = p.facet(s, t); p.err != nil {
				return
			}
		case isWord(word, "solid") && !inside:
			inside = true
			p.solids++
			t.skipLine()
		case isWord(word, "endsolid") && inside:
			inside = false
			t.skipLine()
		default:
			p.err = s.fault(atText(t.word), "%s is not expected here (a facet or \"endsolid\" is); export it again", excerpt(word))
			return
		}
	}
}

// facet reads what follows the word "facet". The normal is not used, so its
// three numbers may be missing or be anything.
func (p *facets) facet(s *source, t *text) error {
	word := t.token()
	for skipped := 0; !isWord(word, "outer") && skipped < 4 && len(word) > 0; skipped++ {
		word = t.token()
	}
	if err := s.expect(t, word, "outer"); err != nil {
		return err
	}
	if err := s.expect(t, t.token(), "loop"); err != nil {
		return err
	}
	for range 3 {
		if err := s.expect(t, t.token(), "vertex"); err != nil {
			return err
		}
		v, err := s.point(t)
		if err != nil {
			return err
		}
		p.corners = append(p.corners, v)
	}
	if word = t.token(); isWord(word, "vertex") {
		return s.fault(atText(t.word), "this facet has more than three corners; export it again as triangles")
	}
	if err := s.expect(t, word, "endloop"); err != nil {
		return err
	}
	return s.expect(t, t.token(), "endfacet")
}

// expect complains unless word, just read from t, is want.
func (s *source) expect(t *text, word []byte, want string) error {
	switch {
	case isWord(word, want):
		return nil
	case len(word) == 0:
		return s.fault(atText(t.word), "the file ends where %q is expected; it was cut short: export or copy it again", want)
	}
	return s.fault(atText(t.word), "%s stands where %q is expected; export it again", excerpt(word), want)
}

// point reads three numbers.
func (s *source) point(t *text) (geom.Vec, error) {
	var v [3]float64
	for a := range v {
		word := t.token()
		x, ok := number(word)
		if !ok {
			return geom.Vec{}, s.fault(atText(t.word), "%s", notNumber(word))
		}
		v[a] = x
	}
	return geom.Vec{X: v[0], Y: v[1], Z: v[2]}, nil
}
