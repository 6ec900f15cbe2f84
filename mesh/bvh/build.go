package bvh

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

const (
	// bundle is the largest range that becomes one node of leaves.
	bundle = width * width
	// subtreeRun is the largest range that is built by one goroutine.
	subtreeRun = 1 << 14
	// alikeRun is the range from which on a node's parts are split alike: their least is then
	// nearly always far more than a bundle.
	alikeRun = 1 << 17
)

// Build indexes all faces of a mesh on the given number of threads (0: all
// processors). It returns an error when the mesh has no faces, or more than
// 2^30, or ctx's.
//
// Ranges are halved in space at the middle of their box's longest side, or,
// where triangles differ much in size, by the binned surface area heuristic
// (Wald 2007), and the halves taken together to nodes of eight (Wald, Benthin &
// Boulos 2008). The last splits are by count, so that leaves are full.
func Build(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Tree, error) {
	n := len(m.Faces)
	if n == 0 {
		return nil, fmt.Errorf("bvh: the mesh has no faces")
	}
	if n > maxTriangles {
		return nil, fmt.Errorf("bvh: %d faces are more than the %d this index can hold", n, maxTriangles)
	}
	all, exact, err := survey(ctx, m.Vertices, threads)
	if err != nil {
		return nil, err
	}
	b := &builder{tree: &Tree{mesh: m, exact: exact, grain: grainOf(all)}, bounds: all, ctx: ctx}
	if !exact {
		b.tree.origin = all.Center()
	}
	records := pages.NewScratch[record](n, n)
	defer records.Release()
	b.records = records.Data
	if err := b.measure(threads, progress.Part(0, 0.2)); err != nil {
		return nil, err
	}
	b.gate = make(chan struct{}, max(parallel.Threads(threads)-1, 0))
	top := b.build(span{0, n, 0, b.least})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	progress.Report(0.7)
	runs, err := b.flatten(top, threads)
	if err != nil {
		return nil, err
	}
	if err := b.fill(runs, threads, progress.Part(0.75, 1)); err != nil || vector {
		return b.tree, err
	}
	return b.tree, b.packAll(threads)
}

type builder struct {
	ctx     context.Context
	tree    *Tree
	records []record
	bounds  geom.Box      // of all vertices
	least   entries       // of all records
	varied  bool          // triangles differ much in size
	gate    chan struct{} // a place in it for every further goroutine that may run
}

// span is a range of records with its depth in the binary tree and its box.
type span struct {
	lo, hi, depth int
	least         entries
}

func (s span) len() int { return s.hi - s.lo }

// piece is a finished part of the tree: nodes with references counted from its own
// first node and leaf, the ranges of its leaves, and the pieces below it that
// were built on their own, each with the place it belongs to.
type piece struct {
	nodes  []wide
	leaves [][2]int
	kids   []kid
}

type kid struct {
	at    place
	piece *piece
}

// build builds a range. Large ranges get a node of their own and a piece for each child.
func (b *builder) build(s span) *piece {
	p := &piece{}
	if b.ctx.Err() != nil {
		return p
	}
	if s.len() <= subtreeRun {
		b.serial(p, s)
		return p
	}
	parts := b.part(s)
	p.nodes = append(p.nodes, wide{})
	p.kids = make([]kid, len(parts))
	for i := range parts {
		p.nodes[0].set(i, &parts[i].least)
	}
	b.each(len(parts), func(i int) { p.kids[i] = kid{placeOf(0, i), b.build(parts[i])} })
	return p
}

// each does pieces of work that do not touch one another, on further goroutines where there is a place for
// them. A panic of any is raised again, in the caller's goroutine, once all have ended: what they work on may be given back then.
func (b *builder) each(n int, work func(i int)) {
	var group sync.WaitGroup
	faults := make([]any, n)
	caught := func(i int) {
		defer func() { faults[i] = recover() }()
		work(i)
	}
	for i := range n {
		if i == n-1 {
			caught(i) // the caller would only wait
			break
		}
		select {
		case b.gate <- struct{}{}:
			group.Go(func() {
				defer func() { <-b.gate }()
				caught(i)
			})
		default:
			caught(i)
		}
	}
	group.Wait()
	for _, fault := range faults {
		if fault != nil {
			panic(fault)
		}
	}
}

// serial appends the nodes and leaves of a range, depth first, and returns the reference to it.
func (b *builder) serial(p *piece, s span) ref {
	if s.len() <= width {
		p.leaves = append(p.leaves, [2]int{s.lo, s.hi})
		return leafBit | ref(len(p.leaves)-1)
	}
	at := len(p.nodes)
	p.nodes = append(p.nodes, wide{})
	parts := b.part(s)
	for i := range parts {
		p.nodes[at].set(i, &parts[i].least)
	}
	for i := range parts {
		r := b.serial(p, parts[i])
		p.nodes[at].to[i] = r
	}
	return ref(at)
}

// set gives a node a child's box.
func (w *wide) set(i int, least *entries) {
	w.used |= 1 << i
	for k := range 3 {
		w.lo[k][i] = least[k]
		w.hi[k][i] = -least[k+4]
	}
}

// part splits a range into the up to eight parts that become a node's children:
// always the largest that is more than a bundle or, in a bundle, more than a leaf.
// Where splitting takes long, all are split three times instead, so that several can be at once.
func (b *builder) part(s span) []span {
	if s.len() > alikeRun {
		return b.partAlike(s)
	}
	parts := make([]span, 1, width)
	parts[0] = s
	enough := bundle
	if s.len() <= bundle {
		enough = width
	}
	for len(parts) < width {
		largest := 0
		for i := range parts {
			if parts[i].len() > parts[largest].len() {
				largest = i
			}
		}
		if parts[largest].len() <= enough {
			break
		}
		var right span
		parts[largest], right = b.cut(parts[largest])
		parts = append(parts, right)
	}
	return parts
}

// partAlike splits a range in two, those in two, and those again, as long as they are more than a bundle.
func (b *builder) partAlike(s span) []span {
	parts := make([]span, width)
	parts[0] = s
	for step := width / 2; step > 0; step /= 2 {
		b.each(width/2/step, func(i int) {
			if at := 2 * step * i; parts[at].len() > bundle {
				parts[at], parts[at+step] = b.cut(parts[at])
			}
		})
	}
	return slices.DeleteFunc(parts, func(p span) bool { return p.len() == 0 })
}
