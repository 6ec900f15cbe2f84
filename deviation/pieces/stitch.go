package pieces

import (
	"cmp"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Seam is where ownership changes between two pieces of the joined mesh.
type Seam struct {
	A, B   int     // pieces, A the lower
	Length float64 // mm
	// Step in mm is how far apart the two skins were along the seam before they were blended: the middle, the 95th percentile and the largest.
	StepMedian, Step95, StepMost float64
	At                           geom.Vec // where it is largest
	Left                         float64  // mm, the largest step that blending left
	Open                         float64  // mm of the seam that could not be stitched: a crack
}

const (
	// stitchEdges: lines of two pieces that are the same seam lie within so many edges of one another.
	stitchEdges = 1.0
	// mergeEdges: their nodes within so many edges are one.
	mergeEdges = 0.15
)

// lineEdge is an edge of the joined mesh on a line where ownership changes.
type lineEdge struct {
	face   uint32
	corner int // from this corner to the next
	a, b   uint32
	insert []inserted
}

type inserted struct {
	along float64
	node  uint32
}

// sewing joins the nodes on both sides of the lines.
type sewing struct {
	c       *cutting
	spacing []float64 // mm, of the pieces
	edges   []lineEdge
	grid    *edgeGrid
	merged  []uint32             // the node that each has gone into, or itself
	left    map[[2]int16]float64 // mm: how far nodes lay off the edges that they went into
}

// stitch joins the pieces along the lines and returns the mesh and its seams.
func (c *cutting) stitch(spacing []float64) (*mesh.Mesh, []Seam) {
	w := sewing{c: c, spacing: spacing, edges: c.lineEdges(), merged: make([]uint32, len(c.nodes)), left: map[[2]int16]float64{}}
	for k := range w.merged {
		w.merged[k] = uint32(k)
	}
	w.grid = newEdgeGrid(c, w.edges, slices.Max(spacing)*stitchEdges)
	order := w.order()
	// The lower piece's nodes go into the higher one's edges, then what is left of the higher one's into the lower one's.
	for _, up := range [2]bool{true, false} {
		for _, v := range order {
			if w.merged[v] == v {
				w.into(v, up)
			}
		}
	}
	faces := c.fill(c.sided(c.once(w.split()), w.find), w.find)
	c.unfold(faces, w.find)
	open := c.openEdges(faces, w.find)
	return c.compact(faces), c.seams(w.edges, w.left, open)
}

// order returns the nodes of the edges, each once.
func (w *sewing) order() (order []uint32) {
	onEdge := map[uint32]bool{}
	for _, e := range w.edges {
		for _, v := range [2]uint32{e.a, e.b} {
			if !onEdge[v] {
				onEdge[v] = true
				order = append(order, v)
			}
		}
	}
	slices.Sort(order)
	return order
}

// into puts a node into the nearest edge of a higher piece, or of a lower one, or merges it with that edge's end.
func (w *sewing) into(v uint32, up bool) {
	n := &w.c.nodes[v]
	tolerance := stitchEdges * w.spacing[n.piece]
	e, s, q := w.grid.nearest(v, tolerance, func(piece int16) bool { return up == (piece > n.piece) && piece != n.piece })
	if e < 0 {
		return
	}
	l := &w.edges[e]
	other := w.c.nodes[l.a].piece
	pair := pairOf(n.piece, other)
	w.left[pair] = max(w.left[pair], math.Abs(n.at.Sub(q).Dot(n.normal)))
	length := w.c.nodes[l.a].at.Dist(w.c.nodes[l.b].at)
	if near := mergeEdges * min(w.spacing[n.piece], w.spacing[other]); min(s, 1-s)*length >= near {
		l.insert = append(l.insert, inserted{s, v})
		return
	}
	end := l.a
	if s > 0.5 {
		end = l.b
	}
	switch {
	case w.merged[end] != end || w.merged[v] != v || v == end:
	case up:
		w.merged[end] = v
	default:
		w.merged[v] = end
	}
}

// find returns the node that a node has become.
func (w *sewing) find(v uint32) uint32 {
	for w.merged[v] != v {
		v = w.merged[v]
	}
	return v
}

// split returns the faces, those with nodes in an edge split at them.
func (w *sewing) split() (faces [][3]uint32) {
	split := map[uint32]int{}
	for k := range w.edges {
		if len(w.edges[k].insert) > 0 {
			split[w.edges[k].face] = k
		}
	}
	for f, t := range w.c.faces {
		k, ok := split[uint32(f)]
		if !ok {
			faces = appendFace(faces, w.find(t[0]), w.find(t[1]), w.find(t[2]))
			continue
		}
		e := &w.edges[k]
		slices.SortFunc(e.insert, func(x, y inserted) int { return cmp.Or(cmp.Compare(x.along, y.along), cmp.Compare(x.node, y.node)) })
		top, from := w.find(t[(e.corner+2)%3]), w.find(e.a)
		for _, in := range append(e.insert, inserted{node: e.b}) {
			to := w.find(in.node)
			faces = appendFace(faces, from, to, top)
			from = to
		}
	}
	return faces
}

func appendFace(faces [][3]uint32, a, b, c uint32) [][3]uint32 {
	if a == b || b == c || c == a {
		return faces
	}
	return append(faces, [3]uint32{a, b, c})
}

func pairOf(a, b int16) [2]int16 { return [2]int16{min(a, b), max(a, b)} }

// lineEdges returns the border edges whose ends both lie on the line, in the faces' order.
func (c *cutting) lineEdges() []lineEdge {
	count := map[edgeKey]int{}
	each := func(visit func(f, k int, a, b uint32)) {
		for f, t := range c.faces {
			for k := range 3 {
				if a, b := t[k], t[(k+1)%3]; c.nodes[a].onLine && c.nodes[b].onLine {
					visit(f, k, a, b)
				}
			}
		}
	}
	each(func(_, _ int, a, b uint32) { count[edgeKey{min(a, b), max(a, b)}]++ })
	var out []lineEdge
	each(func(f, k int, a, b uint32) {
		if count[edgeKey{min(a, b), max(a, b)}] == 1 {
			out = append(out, lineEdge{face: uint32(f), corner: k, a: a, b: b})
		}
	})
	return out
}

// unfoldRounds end the unfolding; what is still folded then is narrower than a hair.
const unfoldRounds = 20

// unfold moves the nodes of slivers that another piece's node turned over along the surface, half the way to the middle of their
// neighbours at a time, until the slivers face as their nodes do.
func (c *cutting) unfold(faces [][3]uint32, find func(uint32) uint32) {
	line := c.onLines(find)
	around := map[uint32][]int32{}
	var near []int32
	for f, t := range faces {
		on := false
		for _, v := range t {
			if line[v] {
				around[v] = append(around[v], int32(f))
				on = true
			}
		}
		if on {
			near = append(near, int32(f))
		}
	}
	for range unfoldRounds {
		moves := map[uint32]bool{}
		var order []uint32
		for _, f := range near {
			t := faces[f]
			if c.looksOut(t[0], t[1], t[2]) {
				continue
			}
			for _, v := range t {
				if line[v] && !moves[v] {
					moves[v] = true
					order = append(order, v)
				}
			}
		}
		if len(order) == 0 {
			return
		}
		for _, v := range order {
			n := &c.nodes[v]
			var sum geom.Vec
			for _, f := range around[v] {
				for _, w := range faces[f] {
					sum = sum.Add(c.nodes[w].at.Sub(n.at))
				}
			}
			sum = sum.Scale(0.25 / float64(len(around[v]))) // of a face's three corners one is the node itself, so that two count
			n.at = n.at.Add(sum.AddScaled(-sum.Dot(n.normal), n.normal))
		}
	}
}

// looksOut reports whether a face faces as its nodes do.
func (c *cutting) looksOut(a, b, d uint32) bool {
	p, q, r := &c.nodes[a], &c.nodes[b], &c.nodes[d]
	return q.at.Sub(p.at).Cross(r.at.Sub(p.at)).Dot(p.normal.Add(q.normal).Add(r.normal)) >= 0
}

// once drops faces on the same corners as an earlier one.
func (c *cutting) once(faces [][3]uint32) [][3]uint32 {
	seen := map[[3]uint32]bool{}
	kept := faces[:0]
	for _, t := range faces {
		if c.nodes[t[0]].onLine || c.nodes[t[1]].onLine || c.nodes[t[2]].onLine {
			key := t
			slices.Sort(key[:])
			if seen[key] {
				continue
			}
			seen[key] = true
		}
		kept = append(kept, t)
	}
	return kept
}

// sided drops of faces along the lines that run the same way along an edge all but the largest: there are two sides to it.
func (c *cutting) sided(faces [][3]uint32, find func(uint32) uint32) [][3]uint32 {
	line := c.onLines(find)
	area := func(f int) float64 {
		t := faces[f]
		p := c.nodes[t[0]].at
		return c.nodes[t[1]].at.Sub(p).Cross(c.nodes[t[2]].at.Sub(p)).Norm()
	}
	along := map[[2]uint32]int{}
	drop := map[int]bool{}
	for f, t := range faces {
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			if !line[a] && !line[b] || drop[f] {
				continue
			}
			other, taken := along[[2]uint32{a, b}]
			switch {
			case !taken || drop[other]:
				along[[2]uint32{a, b}] = f
			case area(f) > area(other):
				drop[other] = true
				along[[2]uint32{a, b}] = f
			default:
				drop[f] = true
			}
		}
	}
	if len(drop) == 0 {
		return faces
	}
	kept := faces[:0]
	for f, t := range faces {
		if !drop[f] {
			kept = append(kept, t)
		}
	}
	return kept
}

// fillMost is the greatest number of edges of a hole that is closed: where three pieces meet, or the lines of
// two part for a face or two.
const fillMost = 10

// fill closes the small holes along the lines.
func (c *cutting) fill(faces [][3]uint32, find func(uint32) uint32) [][3]uint32 {
	line := c.onLines(find)
	count := map[edgeKey]int{}
	for _, t := range faces {
		for k := range 3 {
			if a, b := t[k], t[(k+1)%3]; line[a] && line[b] {
				count[edgeKey{min(a, b), max(a, b)}]++
			}
		}
	}
	next := map[uint32]uint32{} // along the hole's own side
	var order []uint32
	forked := map[uint32]bool{}
	for _, t := range faces {
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			if line[a] && line[b] && count[edgeKey{min(a, b), max(a, b)}] == 1 {
				if _, ok := next[b]; ok {
					forked[b] = true
				}
				next[b] = a
				order = append(order, b)
			}
		}
	}
	done := map[uint32]bool{}
	for _, start := range order {
		if done[start] {
			continue
		}
		loop := []uint32{start}
		at := start
		for len(loop) <= fillMost {
			to, ok := next[at]
			if !ok || forked[at] || done[to] {
				loop = nil
				break
			}
			if to == start {
				break
			}
			loop = append(loop, to)
			at = to
		}
		if len(loop) < 3 || len(loop) > fillMost {
			continue
		}
		for _, v := range loop {
			done[v] = true
		}
		if k := fanFrom(loop, count); k >= 0 {
			turned := append(append([]uint32{}, loop[k:]...), loop[:k]...)
			for i := 1; i+1 < len(turned); i++ {
				faces = appendFace(faces, turned[0], turned[i], turned[i+1])
			}
		}
	}
	return faces
}

// fanFrom returns the corner of a loop from which no diagonal is an edge already, −1 for none.
func fanFrom(loop []uint32, count map[edgeKey]int) int {
	n := len(loop)
	for k := range loop {
		free := true
		for i := 2; i+1 < n && free; i++ {
			a, b := loop[k], loop[(k+i)%n]
			free = count[edgeKey{min(a, b), max(a, b)}] == 0
		}
		if free {
			return k
		}
	}
	return -1
}

// onLines returns which nodes lie on a line, or took one's place.
func (c *cutting) onLines(find func(uint32) uint32) []bool {
	line := make([]bool, len(c.nodes))
	for v := range c.nodes {
		if c.nodes[v].onLine {
			line[v], line[find(uint32(v))] = true, true
		}
	}
	return line
}

// openEdges returns, by pair of pieces, how much of the line is still a border, mm.
func (c *cutting) openEdges(faces [][3]uint32, find func(uint32) uint32) map[[2]int16]float64 {
	line := c.onLines(find)
	count := map[edgeKey]int{}
	var order []edgeKey
	for _, t := range faces {
		for k := range 3 {
			if a, b := t[k], t[(k+1)%3]; line[a] && line[b] {
				key := edgeKey{min(a, b), max(a, b)}
				if count[key] == 0 {
					order = append(order, key)
				}
				count[key]++
			}
		}
	}
	out := map[[2]int16]float64{}
	for _, key := range order {
		if count[key] == 1 {
			n := &c.nodes[key.a]
			out[pairOf(n.piece, n.rival)] += n.at.Dist(c.nodes[key.b].at)
		}
	}
	return out
}

// compact returns the mesh of the faces, its vertices in order of first appearance.
func (c *cutting) compact(faces [][3]uint32) *mesh.Mesh {
	m := &mesh.Mesh{Faces: make([][3]uint32, len(faces))}
	index := make([]uint32, len(c.nodes))
	for v := range index {
		index[v] = mostNodes
	}
	for f, t := range faces {
		for k, v := range t {
			if index[v] == mostNodes {
				index[v] = uint32(len(m.Vertices))
				m.Vertices = append(m.Vertices, c.nodes[v].at)
			}
			m.Faces[f][k] = index[v]
		}
	}
	return m
}

// seams gathers what the lines of each two pieces show.
func (c *cutting) seams(edges []lineEdge, left, open map[[2]int16]float64) []Seam {
	type gathered struct {
		seam  Seam
		steps []float64
	}
	by := map[[2]int16]*gathered{}
	var order [][2]int16
	for k := range edges {
		n, m := &c.nodes[edges[k].a], &c.nodes[edges[k].b]
		if n.rival < 0 || n.piece > n.rival { // each line once, by its lower piece
			continue
		}
		key := pairOf(n.piece, n.rival)
		s := by[key]
		if s == nil {
			s = &gathered{seam: Seam{A: int(key[0]), B: int(key[1])}}
			by[key] = s
			order = append(order, key)
		}
		s.seam.Length += n.at.Dist(m.at)
		size := math.Abs(n.step)
		s.steps = append(s.steps, size)
		if size > s.seam.StepMost {
			s.seam.StepMost, s.seam.At = size, n.at
		}
	}
	slices.SortFunc(order, func(x, y [2]int16) int { return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1])) })
	var out []Seam
	for _, key := range order {
		s := by[key]
		slices.Sort(s.steps)
		s.seam.StepMedian, s.seam.Step95 = quantile(s.steps, 0.5), quantile(s.steps, 0.95)
		s.seam.Left, s.seam.Open = left[key], open[key]/2 // a crack has two sides
		out = append(out, s.seam)
	}
	return out
}

// edgeGrid finds the line edges near a node.
type edgeGrid struct {
	c     *cutting
	edges []lineEdge
	side  float64
	cells map[cellKey][]int32
}

func newEdgeGrid(c *cutting, edges []lineEdge, reach float64) *edgeGrid {
	g := &edgeGrid{c: c, edges: edges, side: max(4*reach, 1e-3), cells: map[cellKey][]int32{}}
	for k := range edges {
		box := geom.EmptyBox().Extend(c.nodes[edges[k].a].at).Extend(c.nodes[edges[k].b].at).Grow(reach)
		lo, hi := cellOf(box.Lo, g.side), cellOf(box.Hi, g.side)
		for x := lo[0]; x <= hi[0]; x++ {
			for y := lo[1]; y <= hi[1]; y++ {
				for z := lo[2]; z <= hi[2]; z++ {
					key := cellKey{x, y, z}
					g.cells[key] = append(g.cells[key], int32(k))
				}
			}
		}
	}
	return g
}

// nearest returns the nearest edge of the pieces wanted within reach, mm, −1 for none; the share along it and the place.
func (g *edgeGrid) nearest(v uint32, reach float64, wanted func(piece int16) bool) (edge int, along float64, at geom.Vec) {
	edge = -1
	n := &g.c.nodes[v]
	for _, k := range g.cells[cellOf(n.at, g.side)] {
		e := &g.edges[k]
		a, b := &g.c.nodes[e.a], &g.c.nodes[e.b]
		if !wanted(a.piece) || a.normal.Dot(n.normal) < cosPair {
			continue
		}
		d := b.at.Sub(a.at)
		s := 0.0
		if l := d.Norm2(); l > 0 {
			s = min(max(n.at.Sub(a.at).Dot(d)/l, 0), 1)
		}
		q := a.at.AddScaled(s, d)
		if far := q.Dist(n.at); far < reach {
			edge, along, at, reach = int(k), s, q, far
		}
	}
	return edge, along, at
}
