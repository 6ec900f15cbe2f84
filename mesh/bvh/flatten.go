package bvh

import (
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// placed is a piece with where its nodes and leaves lie in the tree, and what is above it.
type placed struct {
	*piece
	node, leaf int
	up         place
}

// root returns the reference to the piece's root.
func (p *placed) root() ref {
	if len(p.nodes) == 0 {
		return leafBit | ref(p.leaf)
	}
	return ref(p.node)
}

// flatten puts the pieces into one run of nodes and one of leaves, depth first,
// links parents, and returns the range of records of every leaf.
func (b *builder) flatten(top *piece, threads int) ([][2]int, error) {
	t := b.tree
	all, nodes, leaves := lay(nil, placed{piece: top, up: nowhere})
	t.nodes, t.above = make([]wide, nodes), make([]place, leaves)
	pages.Huge(t.nodes)
	runs := make([][2]int, leaves)
	t.root = all[0].root()
	err := parallel.Chunks(b.ctx, len(all), 1, threads, nil, func(_, _, i, _ int) { t.copy(&all[i], runs) })
	if err != nil {
		return nil, err
	}
	for i := range all {
		p := &all[i]
		t.hang(p.root(), p.up)
	}
	if nodes > 0 {
		t.nodes[0].alone.lo, t.nodes[0].alone.hi = everywhere()
	}
	// Above first: what is alone below a node depends on what is alone at it.
	for i := range all {
		if len(all[i].kids) > 0 {
			t.setAllAlone(&all[i])
		}
	}
	return runs, parallel.Chunks(b.ctx, len(all), 1, threads, nil, func(_, _, i, _ int) {
		if len(all[i].kids) == 0 {
			t.setAllAlone(&all[i])
		}
	})
}

// lay appends a piece and those below it, depth first, and returns how many nodes and leaves there are with them.
func lay(all []placed, p placed) ([]placed, int, int) {
	all = append(all, p)
	nodes, leaves := p.node+len(p.nodes), p.leaf+len(p.leaves)
	for _, k := range p.kids {
		up := placeOf(uint32(p.node)+k.at.node(), int(k.at.child()))
		all, nodes, leaves = lay(all, placed{k.piece, nodes, leaves, up})
	}
	return all, nodes, leaves
}

// copy puts a piece where it belongs and links what is inside it.
func (t *Tree) copy(p *placed, runs [][2]int) {
	copy(runs[p.leaf:], p.leaves)
	nodes := t.nodes[p.node : p.node+len(p.nodes)]
	copy(nodes, p.nodes)
	for i := range nodes {
		n := &nodes[i]
		for k, r := range n.to {
			if n.used>>k&1 == 0 || len(p.kids) > 0 {
				continue // the parts of a node with pieces below it are hung on it later
			}
			if r.leaf() {
				r += ref(p.leaf)
			} else {
				r += ref(p.node)
			}
			t.hang(r, placeOf(uint32(p.node+i), k))
		}
	}
}

// hang links a node or leaf with the place above it.
func (t *Tree) hang(r ref, up place) {
	if r.leaf() {
		t.above[r.index()] = up
	} else {
		t.nodes[r].up = up
	}
	if up != nowhere {
		t.nodes[up.node()].to[up.child()] = r
	}
}

// setAllAlone sets what is alone at every node below one of a piece's.
func (t *Tree) setAllAlone(p *placed) {
	for i := p.node; i < p.node+len(p.nodes); i++ {
		n := &t.nodes[i]
		for k, r := range n.to {
			if n.used>>k&1 != 0 && !r.leaf() {
				t.setAlone(n, k)
			}
		}
	}
}
