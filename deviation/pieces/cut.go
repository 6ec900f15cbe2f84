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

// cut adds what a piece owns.
func (c *cutting) cut(j *joining, piece int, turn *geom.Rigid) {
	m := j.mesh
	field := append([]float64(nil), j.field...)
	// Vertices that the line all but meets are on it.
	for _, t := range m.Faces {
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			fa, fb := j.field[a], j.field[b]
			if fa > 0 && fb < 0 || fa < 0 && fb > 0 {
				if fa == uncovered || fb == uncovered {
					continue
				}
				s := fa / (fa - fb)
				if s < snapShare {
					field[a] = 0
				} else if s > 1-snapShare {
					field[b] = 0
				}
			}
		}
	}
	index := make([]uint32, len(m.Vertices))
	for v := range index {
		index[v] = mostNodes
	}
	node1 := func(v uint32) uint32 {
		if index[v] == mostNodes {
			index[v] = uint32(len(c.nodes))
			c.nodes = append(c.nodes, node{at: j.at[v], normal: turn.ApplyDir(j.normals[v]), piece: int16(piece), rival: j.rival[v], onLine: field[v] == 0, step: j.step[v]})
		}
		return index[v]
	}
	cuts := map[edgeKey]uint32{}
	between := func(a, b uint32) uint32 {
		key := edgeKey{min(a, b), max(a, b)}
		if v, ok := cuts[key]; ok {
			return v
		}
		a, b = key.a, key.b
		s := field[a] / (field[a] - field[b])
		rival := j.rival[a]
		if rival < 0 || field[b] < 0 && j.rival[b] >= 0 {
			rival = j.rival[b]
		}
		v := uint32(len(c.nodes))
		c.nodes = append(c.nodes, node{
			at: j.at[a].Lerp(j.at[b], s), normal: turn.ApplyDir(j.normals[a].Lerp(j.normals[b], s)).Unit(),
			piece: int16(piece), rival: rival, onLine: true, step: j.step[a] + float64(s*(j.step[b]-j.step[a])),
		})
		cuts[key] = v
		return v
	}
	add := func(a, b, d uint32) {
		c.faces = append(c.faces, [3]uint32{a, b, d})
	}
	for _, t := range m.Faces {
		above, below, open := 0, 0, 0
		for _, v := range t {
			switch f := field[v]; {
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
		case above == 0:
			continue // owned by another
		case below == 0:
			add(node1(t[0]), node1(t[1]), node1(t[2]))
			continue
		case open > 0:
			continue // beyond the rival's border, at the same gap
		}
		// Turn the face so that the odd one comes first.
		k := 0
		if above == 1 {
			for !(field[t[k]] > 0) {
				k++
			}
			p, q, r := t[k], t[(k+1)%3], t[(k+2)%3]

			var u, w uint32
			if field[q] < 0 {
				u = between(p, q)
			} else {
				u = node1(q)
			}
			if field[r] < 0 {
				w = between(p, r)
			} else {
				w = node1(r)
			}
			add(node1(p), u, w)
			continue
		}
		for !(field[t[k]] < 0) {
			k++
		}
		p, q, r := t[k], t[(k+1)%3], t[(k+2)%3] // p below, q and r above
		u, w := between(p, q), between(r, p)
		nq, nr := node1(q), node1(r)
		// The shorter diagonal makes the better faces; the line u to w stays with one of them.
		if c.nodes[u].at.Dist(c.nodes[nr].at) < c.nodes[nq].at.Dist(c.nodes[w].at) {
			add(u, nq, nr)
			add(w, u, nr)
		} else {
			add(w, u, nq)
			add(w, nq, nr)
		}
	}
}

// mostNodes marks a vertex that has no node.
const mostNodes = 1<<32 - 1
