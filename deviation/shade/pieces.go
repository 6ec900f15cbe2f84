package shade

import "shutline/mesh/lod"

// pieces are a model's clusters and, some together, its wide faces, as what stands in for it is made of them.
type pieces struct{ *Model }

// widePiece is how many wide faces are a piece.
const widePiece = lod.MostVertices / 3

func (p pieces) Grid() lod.Grid {
	far := p.grid.place(p.box.Hi)
	return lod.Grid{Zero: p.grid.zero, Step: p.grid.step, Reach: max(far[0], far[1], far[2])}
}

func (p pieces) Count() (pieces, vertices int) {
	return len(p.clusters) + (len(p.wide)+widePiece-1)/widePiece, len(p.position) + 3*len(p.wide)
}

func (p pieces) Piece(i int, to *lod.Piece) {
	if i >= len(p.clusters) {
		p.widePiece((i-len(p.clusters))*widePiece, to)
		return
	}
	c := &p.clusters[i]
	from, n := int(c.vertex), int(c.vertices)
	to.First, to.Normals, to.Faces = c.vertex, p.normal[from:from+n], p.corner[c.face:c.face+uint32(c.size)]
	to.At, to.Rim = to.Places[:n], nil
	for k, at := range p.position[from : from+n] {
		to.At[k] = [3]int32{c.base[0] + int32(at[0]), c.base[1] + int32(at[1]), c.base[2] + int32(at[2])}
	}
	some := false
	for w := from / 32; w < (from+n+31)/32; w++ {
		some = some || p.rim[w] != 0
	}
	if some {
		to.Rim = to.Rims[:n]
		for k := range to.Rim {
			at := from + k
			to.Rim[k] = p.rim[at/32]>>(at%32)&1 != 0
		}
	}
}

// wideCorners are those of wide faces, each with vertices of its own.
var wideCorners = func() (t [widePiece][3]uint8) {
	for i := range t {
		t[i] = [3]uint8{uint8(3 * i), uint8(3*i + 1), uint8(3*i + 2)}
	}
	return t
}()

func (p pieces) widePiece(from int, to *lod.Piece) {
	faces := p.wide[from:min(from+widePiece, len(p.wide))]
	to.First, to.Faces = uint32(len(p.position)+3*from), wideCorners[:len(faces)]
	to.At, to.Normals, to.Rim = to.Places[:0], nil, to.Rims[:0]
	for i := range faces {
		w := &faces[i]
		for k, at := range w.corner {
			to.At = append(to.At, [3]int32{int32(at[0]), int32(at[1]), int32(at[2])})
			to.Normals = append(to.Normals, w.normal[k])
			to.Rim = append(to.Rim, w.rim[k])
		}
	}
}
