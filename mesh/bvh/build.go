package bvh

import (
	"context"
	"fmt"
	"sync"

	"shutline/mesh"
	"shutline/mesh/parallel"
)

// record is one triangle while the tree is built. Twice its middle is lo + hi.
type record struct {
	lo   [3]float32
	face uint32
	hi   [3]float32
	_    uint32
}

const (
	bins       = 16
	recordRun  = 1 << 14 // triangles per parallel chunk
	subtreeRun = 1 << 13 // subtrees up to this size are built by one goroutine each
	// Costs of the surface area heuristic: a step down the tree against a triangle.
	stepCost, triangleCost = 1.0, 1.5
)

// Build indexes all faces of a mesh on the given number of threads (0: all
// processors). It returns an error when the mesh has no faces, or more than
// 2^28, or ctx's.
//
// Based on: Wald, "On fast construction of SAH-based bounding volume
// hierarchies" (2007): binned surface area heuristic.
func Build(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Tree, error) {
	n := len(m.Faces)
	if n == 0 {
		return nil, fmt.Errorf("bvh: the mesh has no faces")
	}
	if n > maxTriangles {
		return nil, fmt.Errorf("bvh: %d faces are more than the %d this index can hold", n, maxTriangles)
	}
	bounds := m.Bounds()
	b := &builder{tree: &Tree{origin: bounds.Center(), grain: grainOf(bounds)}, ctx: ctx}
	b.records = make([]record, n)
	if err := b.measure(m, threads, progress.Part(0, 0.1)); err != nil {
		return nil, err
	}
	b.gate = make(chan struct{}, max(parallel.Threads(threads)-1, 0))
	whole := b.extent(0, n)
	top := b.split(0, n, 0, whole)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	progress.Report(0.8)
	b.flatten(top, whole)
	err := b.fill(m, threads, progress.Part(0.85, 1))
	return b.tree, err
}

type builder struct {
	ctx     context.Context
	tree    *Tree
	records []record
	gate    chan struct{} // a place in it for every further goroutine that may run
}

// subtree is a piece of the finished tree: a leaf, a run of nodes of its own
// with references counted from that run, or two subtrees.
type subtree struct {
	leaf  ref
	nodes []node
	kids  [2]*subtree
	box   [2]box
}

func (b *builder) measure(m *mesh.Mesh, threads int, progress mesh.Progress) error {
	o := b.tree.origin
	return parallel.Chunks(b.ctx, len(m.Faces), recordRun, threads, progress, func(_, _, lo, hi int) {
		for f := lo; f < hi; f++ {
			p, q, r := m.Corners(uint32(f))
			p, q, r = p.Sub(o), q.Sub(o), r.Sub(o)
			b.records[f] = record{
				lo:   [3]float32{down(min(p.X, q.X, r.X)), down(min(p.Y, q.Y, r.Y)), down(min(p.Z, q.Z, r.Z))},
				hi:   [3]float32{up(max(p.X, q.X, r.X)), up(max(p.Y, q.Y, r.Y)), up(max(p.Z, q.Z, r.Z))},
				face: uint32(f),
			}
		}
	})
}

// extents are the box of some triangles and the box of their doubled middles.
type extents struct{ box, mid box }

func (b *builder) extent(lo, hi int) extents {
	e := extents{emptyBox(), emptyBox()}
	for i := lo; i < hi; i++ {
		e.add(&b.records[i])
	}
	return e
}

func (e *extents) add(r *record) {
	for k := range 3 {
		e.box.lo[k] = min(e.box.lo[k], r.lo[k])
		e.box.hi[k] = max(e.box.hi[k], r.hi[k])
		c := r.lo[k] + r.hi[k]
		e.mid.lo[k] = min(e.mid.lo[k], c)
		e.mid.hi[k] = max(e.mid.hi[k], c)
	}
}

func (b *builder) split(lo, hi, depth int, e extents) *subtree {
	if hi-lo <= leafSize {
		return &subtree{leaf: leafRef(lo, hi-lo)}
	}
	if b.ctx.Err() != nil {
		return nil
	}
	if hi-lo <= subtreeRun {
		s := &subtree{nodes: make([]node, 0, (hi-lo)/2)}
		b.serial(s, lo, hi, depth, e)
		return s
	}
	mid, left, right := b.cut(lo, hi, depth, e)
	s := &subtree{box: [2]box{left.box, right.box}}
	select {
	case b.gate <- struct{}{}:
		var group sync.WaitGroup
		group.Add(1)
		go func() {
			defer group.Done()
			s.kids[1] = b.split(mid, hi, depth+1, right)
			<-b.gate
		}()
		s.kids[0] = b.split(lo, mid, depth+1, left)
		group.Wait()
	default:
		s.kids[0] = b.split(lo, mid, depth+1, left)
		s.kids[1] = b.split(mid, hi, depth+1, right)
	}
	return s
}

// serial builds the nodes of a range depth first and returns the reference to it.
func (b *builder) serial(s *subtree, lo, hi, depth int, e extents) ref {
	if hi-lo <= leafSize {
		return leafRef(lo, hi-lo)
	}
	at := len(s.nodes)
	s.nodes = append(s.nodes, node{})
	mid, left, right := b.cut(lo, hi, depth, e)
	l := b.serial(s, lo, mid, depth+1, left)
	r := b.serial(s, mid, hi, depth+1, right)
	s.nodes[at] = node{child: [2]box{left.box, right.box}, to: [2]ref{l, r}}
	return ref(at)
}

// cut orders a range so that its two children follow one another, and returns
// where the second begins and the extents of both.
func (b *builder) cut(lo, hi, depth int, e extents) (mid int, left, right extents) {
	axis := 0
	for k := 1; k < 3; k++ {
		if e.mid.hi[k]-e.mid.lo[k] > e.mid.hi[axis]-e.mid.lo[axis] {
			axis = k
		}
	}
	width := e.mid.hi[axis] - e.mid.lo[axis]
	if width > 0 && depth < splitDepth {
		mid, left, right = b.cutBinned(lo, hi, axis, e.mid.lo[axis], bins/width)
		if mid > lo && mid < hi {
			return mid, left, right
		}
	}
	mid = (lo + hi) / 2
	return mid, b.extent(lo, mid), b.extent(mid, hi)
}

func (b *builder) cutBinned(lo, hi, axis int, from, scale float32) (mid int, left, right extents) {
	var boxes [bins]box
	var count [bins]int
	for k := range boxes {
		boxes[k] = emptyBox()
	}
	records := b.records[lo:hi]
	for i := range records {
		r := &records[i]
		k := binOf(r, axis, from, scale)
		count[k]++
		o := &boxes[k]
		o.lo[0], o.lo[1], o.lo[2] = min(o.lo[0], r.lo[0]), min(o.lo[1], r.lo[1]), min(o.lo[2], r.lo[2])
		o.hi[0], o.hi[1], o.hi[2] = max(o.hi[0], r.hi[0]), max(o.hi[1], r.hi[1]), max(o.hi[2], r.hi[2])
	}
	last := bestBin(&boxes, &count)
	left, right = extents{emptyBox(), emptyBox()}, extents{emptyBox(), emptyBox()}
	i, j := 0, len(records)
	for i < j {
		if r := &records[i]; binOf(r, axis, from, scale) <= last {
			left.add(r)
			i++
			continue
		}
		j--
		records[i], records[j] = records[j], records[i]
		right.add(&records[j])
	}
	return lo + i, left, right
}

func binOf(r *record, axis int, from, scale float32) int {
	return min(max(int((r.lo[axis]+r.hi[axis]-from)*scale), 0), bins-1)
}

// bestBin returns the last bin of the cheaper left part.
func bestBin(boxes *[bins]box, count *[bins]int) int {
	var cost [bins]float32
	sum, n := emptyBox(), 0
	for k := bins - 1; k > 0; k-- {
		sum.join(&boxes[k])
		n += count[k]
		if n > 0 {
			cost[k-1] = sum.halfArea() * float32(n)
		}
	}
	sum, n = emptyBox(), 0
	best, at := float32(0), -1
	for k := range bins - 1 {
		sum.join(&boxes[k])
		if n += count[k]; n > 0 {
			cost[k] += sum.halfArea() * float32(n)
		}
		if at < 0 || cost[k] < best {
			best, at = cost[k], k
		}
	}
	return at
}

// flatten puts the pieces into one run of nodes, depth first, and links parents.
func (b *builder) flatten(top *subtree, whole extents) {
	t := b.tree
	t.bounds = whole.box
	t.nodes = make([]node, 0, countNodes(top))
	t.root = b.place(top)
	for i := range t.nodes {
		for side, c := range t.nodes[i].to {
			if c&leafBit == 0 {
				t.nodes[c].up = uint32(i)<<1 | uint32(side)
			}
		}
	}
	if t.root&leafBit == 0 {
		t.nodes[t.root].up = noParent
	}
}

func countNodes(s *subtree) int {
	if s.kids[0] != nil {
		return 1 + countNodes(s.kids[0]) + countNodes(s.kids[1])
	}
	return len(s.nodes)
}

func (b *builder) place(s *subtree) ref {
	t := b.tree
	at := len(t.nodes)
	switch {
	case s.kids[0] != nil:
		t.nodes = append(t.nodes, node{child: s.box})
		l := b.place(s.kids[0])
		r := b.place(s.kids[1])
		t.nodes[at].to = [2]ref{l, r}
	case len(s.nodes) > 0:
		t.nodes = append(t.nodes, s.nodes...)
		for i := at; i < len(t.nodes); i++ {
			for side, c := range t.nodes[i].to {
				if c&leafBit == 0 {
					t.nodes[i].to[side] = c + ref(at)
				}
			}
		}
	default:
		return s.leaf
	}
	return ref(at)
}

// fill copies the triangles in the order of the leaves.
func (b *builder) fill(m *mesh.Mesh, threads int, progress mesh.Progress) error {
	t := b.tree
	t.tri = make([]triangle, len(b.records))
	t.face = make([]uint32, len(b.records))
	return parallel.Chunks(b.ctx, len(b.records), recordRun, threads, progress, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			f := b.records[i].face
			t.face[i] = f
			t.tri[i].a, t.tri[i].b, t.tri[i].c = m.Corners(f)
		}
	})
}
