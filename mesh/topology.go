package mesh

import (
	"context"
	"slices"

	"shutline/mesh/pages"
)

// checkEvery is how many faces, edges or vertices are handled between two
// looks at a context: well under a millisecond to a few of them.
const checkEvery = 1 << 16

// Edges is the table of a mesh's edges: which faces meet at each of them. It
// takes about 50 bytes a face and is built in linear time by a counting sort.
type Edges struct {
	Ends   [][2]uint32 // the two vertices of each edge, lower one first; in order of the first, then the second
	OfFace [][3]uint32 // edges of each face: from corner 0 to 1, 1 to 2 and 2 to 0
	first  []uint32    // where each edge's sides begin; one more than there are edges
	sides  []Side
}

// Side is a face at an edge and the way the face runs along it.
type Side uint32

// Face returns the face.
func (s Side) Face() uint32 { return uint32(s >> 1) }

// Forward reports whether the face runs from the edge's lower vertex to its higher one.
func (s Side) Forward() bool { return s&1 == 0 }

// Sides returns the faces at edge e in order of their numbers: one at a border,
// two where the surface goes on, more where it branches.
func (t *Edges) Sides(e uint32) []Side { return t.sides[t.first[e]:t.first[e+1]] }

// Border reports whether edge e has one face only.
func (t *Edges) Border(e uint32) bool { return t.first[e+1]-t.first[e] == 1 }

// Across returns the face on the other side of edge e from face f, and whether
// there is exactly one.
func (t *Edges) Across(e, f uint32) (uint32, bool) {
	s := t.Sides(e)
	if len(s) != 2 {
		return 0, false
	}
	if s[0].Face() == f {
		return s[1].Face(), true
	}
	return s[0].Face(), true
}

// NewEdges builds the edge table of m, which must have fewer than 2^31 faces
// and a third of 2^32 at most. It returns the context's error when ctx is done.
func NewEdges(ctx context.Context, m *Mesh) (*Edges, error) {
	type half struct {
		high uint32
		side Side
		slot uint8 // which edge of its face
	}
	begin := make([]uint32, len(m.Vertices)+1)
	for f, t := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for k := range 3 {
			begin[min(t[k], t[(k+1)%3])+1]++
		}
	}
	for v := range m.Vertices {
		begin[v+1] += begin[v]
	}
	scratch := pages.NewScratch[half](3*len(m.Faces), 3*len(m.Faces))
	defer scratch.Release()
	halves := scratch.Data
	next := slices.Clone(begin[:len(m.Vertices)])
	for f, t := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			side := Side(f << 1)
			if a > b {
				a, b, side = b, a, side|1
			}
			halves[next[a]] = half{b, side, uint8(k)}
			next[a]++
		}
	}
	e := &Edges{OfFace: make([][3]uint32, len(m.Faces)), sides: make([]Side, len(halves))}
	pages.Huge(e.OfFace)
	pages.Huge(e.sides)
	e.Ends = make([][2]uint32, 0, len(halves)/2+16)
	e.first = make([]uint32, 0, len(halves)/2+17)
	for v := range m.Vertices {
		if v%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		at := halves[begin[v]:begin[v+1]]
		// Stable: halves of one edge stay in the order of their faces.
		if err := sortStable(ctx, at, func(x, y half) int { return int(x.high) - int(y.high) }); err != nil {
			return nil, err
		}
		for i, h := range at {
			if i == 0 || h.high != at[i-1].high {
				e.first = append(e.first, begin[v]+uint32(i))
				e.Ends = append(e.Ends, [2]uint32{uint32(v), h.high})
			}
			e.sides[begin[v]+uint32(i)] = h.side
			e.OfFace[h.side.Face()][h.slot] = uint32(len(e.Ends) - 1)
		}
	}
	e.first = append(e.first, uint32(len(halves)))
	return e, nil
}

// Loop is a run of border edges, end to end.
type Loop struct {
	Edges  int
	Length float64 // mm
	Closed bool    // false where a branching edge cuts the border
}

// BorderLoops follows the borders. From a border edge it turns about the end
// vertex, from face to face, to the next border edge, so that surfaces which only touch at
// a vertex keep their own borders, and holes which touch at a vertex make one. Loops come
// longest first.
func (t *Edges) BorderLoops(ctx context.Context, m *Mesh) ([]Loop, error) {
	seen := make([]bool, len(t.Ends))
	var loops []Loop
	for e := range t.Ends {
		if e%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if seen[e] || !t.Border(uint32(e)) {
			continue
		}
		loop := Loop{Closed: true}
		for _, from := range t.Ends[e] { // the second turn goes backwards, if the first met no closed loop
			closed, err := t.follow(ctx, m, uint32(e), from, seen, &loop)
			if err != nil {
				return nil, err
			}
			if closed {
				break
			}
			loop.Closed = false
		}
		loops = append(loops, loop)
	}
	slices.SortStableFunc(loops, func(a, b Loop) int {
		switch {
		case a.Length > b.Length:
			return -1
		case a.Length < b.Length:
			return 1
		}
		return 0
	})
	return loops, nil
}

// follow adds border edges to loop, beginning at edge e and leaving it at the
// end that is not from, and reports whether it came back to e.
func (t *Edges) follow(ctx context.Context, m *Mesh, e, from uint32, seen []bool, loop *Loop) (bool, error) {
	start := e
	for {
		if loop.Edges%checkEvery == 0 && ctx.Err() != nil {
			return false, ctx.Err()
		}
		if !seen[e] {
			seen[e] = true
			loop.Edges++
			loop.Length += m.Vertices[t.Ends[e][0]].Dist(m.Vertices[t.Ends[e][1]])
		}
		pivot := t.Ends[e][0] ^ t.Ends[e][1] ^ from
		next, ok, err := t.turn(ctx, e, pivot)
		if !ok || err != nil {
			return false, err
		}
		if next == start {
			return true, nil
		}
		if seen[next] {
			return false, nil
		}
		e, from = next, pivot
	}
}

// turn goes from border edge e about vertex pivot to the next border edge.
func (t *Edges) turn(ctx context.Context, e, pivot uint32) (uint32, bool, error) {
	f := t.Sides(e)[0].Face()
	for n := range t.OfFace { // ends earlier: no face is met twice
		if n%checkEvery == checkEvery-1 && ctx.Err() != nil {
			return 0, false, ctx.Err()
		}
		for _, other := range t.OfFace[f] {
			if other != e && (t.Ends[other][0] == pivot || t.Ends[other][1] == pivot) {
				e = other
				break
			}
		}
		if t.Border(e) {
			return e, true, nil
		}
		var ok bool
		if f, ok = t.Across(e, f); !ok {
			return 0, false, nil
		}
	}
	return 0, false, nil
}
