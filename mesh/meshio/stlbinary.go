package meshio

import (
	"encoding/binary"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

const (
	// blockTriangles are read, hashed and welded at a time: 200 kB, which stay in a
	// processor's own cache, and less than a millisecond of work between two looks at the context.
	blockTriangles = 1 << 12
	// partTriangles: fewer are not worth a part, and its merging, of their own.
	partTriangles = 1 << 16
	// maxParts: each part keeps the corners it met, so more would cost memory; and two weld as
	// fast as a SHA-256 can be computed.
	maxParts = 2
	// facesPerCheck are worked on between two looks at the context: some milliseconds.
	facesPerCheck = 1 << 15
)

// readSTLBinary reads 84 + 50 n bytes; any other size is refused with both numbers.
//
// The file is read in blocks, each byte once for the mesh. It is not mapped into
// memory: reading is as fast here, and a mapped file that is cut short by someone else
// ends a program by a signal instead of an error.
//
// With several threads the triangles are welded in two parts side by side. The corners
// of the second are then looked up among those before, and the new ones are appended
// in the part's order, which is the order of first appearance in the file again.
func readSTLBinary(s *source) (*decoded, error) {
	if s.size < stlHeader {
		return nil, s.fault(nowhere, "its %d bytes are fewer than the 84 of an STL header; it was cut short: export or copy it again", s.size)
	}
	if !isSizedSTL(s.head, s.size) {
		n, holds := binary.LittleEndian.Uint32(s.head[80:]), (s.size-stlHeader)/stlTriangle
		how := "it was cut short"
		if int(n) <= holds {
			how = "more follows than belongs to them"
		}
		return nil, s.fault(atByte(80), "the header says %s triangles, but the file's %s bytes hold %s; %s: export or copy it again",
			count(int(n)), count(int(s.size)), count(int(holds)), how)
	}
	n := int((s.size - stlHeader) / stlTriangle)
	out := &decoded{Loaded: Loaded{Format: "STL binary", FacesInFile: n, VerticesInFile: 3 * n}}
	faces := make([][3]uint32, n)
	pages.Huge(faces)
	parts := stlParts(n, parallel.Threads(s.threads))
	defer func() {
		for i := range parts {
			parts[i].release()
		}
	}()
	err := parallel.Chunks(s.ctx, len(parts), 1, len(parts), nil, func(_, p, _, _ int) {
		parts[p].read(s, faces)
	})
	if err != nil {
		return nil, err
	}
	for i := range parts {
		if parts[i].err != nil {
			return nil, parts[i].err
		}
		out.DroppedNotFinite += parts[i].dropped.notFinite
		out.DroppedNoArea += parts[i].dropped.noArea
	}
	if faces, err = s.mergeParts(parts, faces); err != nil {
		return nil, err
	}
	parts[0].slots.Release() // before more memory is needed
	corners := parts[0].corners()
	vertices := make([]geom.Vec, len(corners))
	pages.Huge(vertices)
	boxes := make([]geom.Box, (len(corners)+facesPerCheck-1)/facesPerCheck)
	err = parallel.Chunks(s.ctx, len(corners), facesPerCheck, s.threads, nil, func(_, c, lo, hi int) {
		boxes[c] = widen(vertices[lo:hi], corners[lo:hi])
	})
	out.Mesh = &mesh.Mesh{Vertices: vertices, Faces: faces}
	out.box = joined(boxes)
	return out, err
}

// widen turns finite corners into vertices and returns their box.
func widen(vertices []geom.Vec, corners []corner) geom.Box {
	box := geom.EmptyBox()
	lo, hi := box.Lo, box.Hi
	for i, c := range corners {
		v := vec32(c)
		vertices[i] = v
		if v.X < lo.X {
			lo.X = v.X
		}
		if v.X > hi.X {
			hi.X = v.X
		}
		if v.Y < lo.Y {
			lo.Y = v.Y
		}
		if v.Y > hi.Y {
			hi.Y = v.Y
		}
		if v.Z < lo.Z {
			lo.Z = v.Z
		}
		if v.Z > hi.Z {
			hi.Z = v.Z
		}
	}
	return geom.Box{Lo: lo, Hi: hi}
}

// stlPart is a run of triangles that one thread welds by itself.
type stlPart struct {
	*cornerWelder
	lo, hi  int // triangles of the file
	written int // faces, from lo on
	dropped tally
	err     error
}

// stlParts cuts n triangles into runs for so many threads.
func stlParts(n, threads int) []stlPart {
	parts := make([]stlPart, max(1, min(threads, maxParts, n/partTriangles)))
	for p := range parts {
		parts[p].lo, parts[p].hi = p*n/len(parts), (p+1)*n/len(parts)
	}
	return parts
}

func (p *stlPart) release() {
	if p.cornerWelder != nil {
		p.cornerWelder.release()
		p.cornerWelder = nil
	}
}

// read welds the part's triangles; faces get the part's own numbers.
func (p *stlPart) read(s *source, faces [][3]uint32) {
	room := p.hi - p.lo
	if p.lo == 0 {
		room = len(faces) // the first part takes the others' corners in
	}
	p.cornerWelder = newCornerWelder(room)
	buf := make([]byte, min(p.hi-p.lo, blockTriangles)*stlTriangle)
	if s.hash != nil {
		s.hash.Write(s.head[:stlHeader]) // then there is one part only
	}
	at := p.lo
	for lo := p.lo; lo < p.hi; lo += blockTriangles {
		if p.err = s.ctx.Err(); p.err != nil {
			return
		}
		if share := (p.hi - p.lo) / 16; p.lo > 0 && lo-p.lo >= share && lo-p.lo < share+blockTriangles && 2*p.count > 3*(lo-p.lo) {
			p.reserve(p.hi - p.lo) // triangles are in no order: nearly all corners of the file will be met, so the table grows while it is small
		}
		hi := min(p.hi, lo+blockTriangles)
		var body []byte
		if body, p.err = s.block(buf, stlHeader+lo*stlTriangle, stlHeader+hi*stlTriangle); p.err != nil {
			return
		}
		p.reserve(3 * (hi - lo))
		at += p.add(faces[at:p.hi], body, &p.dropped)
		if s.hash != nil {
			s.hash.Write(body)
		}
		s.blocks.add(len(body))
	}
	p.written = at - p.lo
}

// mergeParts renumbers the corners of a second part as those of the first, and closes the
// gap that dropped faces left.
func (s *source) mergeParts(parts []stlPart, faces [][3]uint32) ([][3]uint32, error) {
	first := &parts[0]
	at := first.written
	if len(parts) > 1 {
		p := &parts[1]
		own := faces[p.lo : p.lo+p.written]
		if err := s.merge(first, p, own); err != nil {
			return nil, err
		}
		copy(faces[at:], own)
		at += p.written
		p.release()
	}
	if at < len(faces)/8*7 {
		return append([][3]uint32(nil), faces[:at]...), nil // so much room is not kept for nothing
	}
	return faces[:at:at], nil
}

// merge appends the corners of p that first does not have to its own, which ends look-ups in
// them, and renumbers the faces of p.
func (s *source) merge(first, p *stlPart, faces [][3]uint32) error {
	corners := p.corners()
	number := p.slots.Data[:len(corners)] // the table has done its work and is larger
	err := parallel.Chunks(s.ctx, len(corners), facesPerCheck, s.threads, nil, func(_, _, lo, hi int) {
		first.find(corners[lo:hi], number[lo:hi])
	})
	if err != nil {
		return err
	}
	first.reserveKnown(len(corners))
	for k, c := range corners {
		if k%facesPerCheck == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		if number[k] == 0 {
			number[k] = first.append(c)
		}
	}
	return parallel.Chunks(s.ctx, len(faces), facesPerCheck, s.threads, nil, func(_, _, lo, hi int) {
		for j := lo; j < hi; j++ {
			f := &faces[j]
			*f = [3]uint32{number[f[0]] - 1, number[f[1]] - 1, number[f[2]] - 1}
		}
	})
}

func vec32(k [3]uint32) geom.Vec {
	return geom.Vec{
		X: float64(math.Float32frombits(k[0])),
		Y: float64(math.Float32frombits(k[1])),
		Z: float64(math.Float32frombits(k[2])),
	}
}
