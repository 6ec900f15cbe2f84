package pieces

import (
	"shutline/mesh/geom"
)

// node is a vertex of the joined mesh with what the stitching needs.
type node struct {
	at     geom.Vec
	normal geom.Vec
	piece  int16
	rival  int16
	onLine bool    // on the line where ownership changes
	step   float64 // mm, between the skins before they were blended
}

// cutting builds the joined mesh: what every piece owns, cut along the lines where ownership changes.
type cutting struct {
	nodes []node
	faces [][3]uint32
}

// together returns several as one, in their order.
func together(parts []*cutting) *cutting {
	nodes, faces := 0, 0
	for _, p := range parts {
		nodes, faces = nodes+len(p.nodes), faces+len(p.faces)
	}
	c := &cutting{nodes: make([]node, 0, nodes), faces: make([][3]uint32, 0, faces)}
	for k, p := range parts {
		first := uint32(len(c.nodes))
		c.nodes = append(c.nodes, p.nodes...)
		for _, t := range p.faces {
			c.faces = append(c.faces, [3]uint32{t[0] + first, t[1] + first, t[2] + first})
		}
		parts[k] = nil
	}
	return c
}

// snapShare: where the line passes an edge's end by less than this share of it, it passes through the end, so that no
// slivers are cut off.
const snapShare = 0.15

type edgeKey struct{ a, b uint32 }

// knife cuts one piece along the lines where ownership changes.
type knife struct {
	c     *cutting
	j     *joining
	piece int16
	turn  *geom.Rigid
	field []float64 // as the joining's, but nothing where the line all but meets a vertex
	nodes []uint32  // of the vertices
	cuts  map[edgeKey]uint32
}

// cut adds what a piece owns.
func (c *cutting) cut(j *joining, piece int, turn *geom.Rigid) {
	k := knife{c: c, j: j, piece: int16(piece), turn: turn, field: snapped(j), nodes: make([]uint32, len(j.mesh.Vertices)), cuts: map[edgeKey]uint32{}}
	for v := range k.nodes {
		k.nodes[v] = mostNodes
	}
	for _, t := range j.mesh.Faces {
		k.face(t)
	}
}

// snapped returns the field with the vertices that the line all but meets on it.
func snapped(j *joining) []float64 {
	field := append([]float64(nil), j.field...)
	for _, t := range j.mesh.Faces {
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			fa, fb := j.field[a], j.field[b]
			if !(fa > 0 && fb < 0 || fa < 0 && fb > 0) || fa == uncovered || fb == uncovered {
				continue
			}
			if s := fa / (fa - fb); s < snapShare {
				field[a] = 0
			} else if s > 1-snapShare {
				field[b] = 0
			}
		}
	}
	return field
}

// at returns the node of a vertex.
func (k *knife) at(v uint32) uint32 {
	if k.nodes[v] == mostNodes {
		j := k.j
		k.nodes[v] = uint32(len(k.c.nodes))
		k.c.nodes = append(k.c.nodes, node{at: j.at[v], normal: k.turn.ApplyDir(j.normals[v]), piece: k.piece, rival: j.rival[v], onLine: k.field[v] == 0, step: j.step[v]})
	}
	return k.nodes[v]
}

// between returns the node where the line crosses an edge.
func (k *knife) between(a, b uint32) uint32 {
	key := edgeKey{min(a, b), max(a, b)}
	if v, ok := k.cuts[key]; ok {
		return v
	}
	a, b = key.a, key.b
	j := k.j
	s := k.field[a] / (k.field[a] - k.field[b])
	rival := j.rival[a]
	if rival < 0 || k.field[b] < 0 && j.rival[b] >= 0 {
		rival = j.rival[b]
	}
	v := uint32(len(k.c.nodes))
	k.c.nodes = append(k.c.nodes, node{
		at: j.at[a].Lerp(j.at[b], s), normal: k.turn.ApplyDir(j.normals[a].Lerp(j.normals[b], s)).Unit(),
		piece: k.piece, rival: rival, onLine: true, step: j.step[a] + float64(s*(j.step[b]-j.step[a])),
	})
	k.cuts[key] = v
	return v
}

// owned returns the node of b, or where the line crosses the edge to it from a that is owned.
func (k *knife) owned(a, b uint32) uint32 {
	if k.field[b] < 0 {
		return k.between(a, b)
	}
	return k.at(b)
}

func (k *knife) add(a, b, d uint32) { k.c.faces = append(k.c.faces, [3]uint32{a, b, d}) }

// face adds what the piece owns of a face.
func (k *knife) face(t [3]uint32) {
	above, below, open := 0, 0, 0
	for _, v := range t {
		switch f := k.field[v]; {
		case f == uncovered:
			above++
			open++
		case f > 0:
			above++
		case f < 0:
			below++
		}
	}
	switch {
	case above == 0: // owned by another
	case below == 0:
		k.add(k.at(t[0]), k.at(t[1]), k.at(t[2]))
	case open > 0: // beyond the rival's border, at the same gap
	case above == 1:
		p, q, r := turnedTo(t, func(v uint32) bool { return k.field[v] > 0 })
		u, w := k.owned(p, q), k.owned(p, r)
		k.add(k.at(p), u, w)
	default:
		k.two(turnedTo(t, func(v uint32) bool { return k.field[v] < 0 }))
	}
}

// two adds what the piece owns of a face whose vertex p is another's.
func (k *knife) two(p, q, r uint32) {
	u, w := k.between(p, q), k.between(r, p)
	nq, nr := k.at(q), k.at(r)
	// The shorter diagonal makes the better faces; the line u to w stays with one of them.
	if k.c.nodes[u].at.Dist(k.c.nodes[nr].at) < k.c.nodes[nq].at.Dist(k.c.nodes[w].at) {
		k.add(u, nq, nr)
		k.add(w, u, nr)
	} else {
		k.add(w, u, nq)
		k.add(w, nq, nr)
	}
}

// turnedTo returns the corners so that the first that is the odd one comes first.
func turnedTo(t [3]uint32, odd func(v uint32) bool) (p, q, r uint32) {
	k := 0
	for !odd(t[k]) {
		k++
	}
	return t[k], t[(k+1)%3], t[(k+2)%3]
}

// mostNodes marks a vertex that has no node.
const mostNodes = 1<<32 - 1
