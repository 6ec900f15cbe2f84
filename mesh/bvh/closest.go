package bvh

import (
	"math"
	"math/bits"

	"shutline/mesh/geom"
)

// Answer is the closest point found.
type Answer struct {
	Point   geom.Vec
	Dist2   float64 // mm², squared distance
	Face    uint32
	Feature geom.Feature
}

// Facing restricts a question to faces whose unit normal n has n·Dir >= MinCos.
type Facing struct {
	Dir    geom.Vec
	MinCos float64
}

// Finder asks one tree for closest points and starts at the leaf of its last
// answer, which makes neighbouring questions quick. Not for several goroutines at once.
type Finder struct {
	t      *Tree
	have   bool
	leaf   uint32
	probe  probe
	p      geom.Vec
	best   Answer
	found  bool
	facing *Facing
	first  bool  // stop at the first face within the limit
	d2     lanes // of boxes
	near   lanes // of triangles
	chosen []candidate
	stack  [stackSize]pending
}

type pending struct {
	to    ref
	dist2 float32
}

// candidate is a triangle that may be the closest.
type candidate struct {
	leaf, lane uint32
	dist2      float32
}

// chosenMost is how many candidates are kept before they are looked at.
const chosenMost = 32

// NewFinder returns a finder.
func (t *Tree) NewFinder() *Finder {
	return &Finder{t: t, chosen: make([]candidate, 0, chosenMost)}
}

// Leaf names where the last answer was found, for [Finder.StartAt].
func (f *Finder) Leaf() (leaf uint32, ok bool) { return f.leaf, f.found }

// StartAt makes the finder start the next question where one for a point p, mm, was answered, by whichever finder of
// the same tree. It decides speed alone.
func (f *Finder) StartAt(leaf uint32, p geom.Vec) { f.leaf, f.p, f.have = leaf, p, true }

// Closest returns the closest point within the given distance in mm (inclusive,
// may be infinite); facing may be nil. Of equally close faces the lowest is returned.
func (f *Finder) Closest(p geom.Vec, within float64, facing *Facing) (Answer, bool) {
	f.run(p, within, facing, false)
	return f.best, f.found
}

// Any reports whether a face lies within the given distance in mm.
func (f *Finder) Any(p geom.Vec, within float64, facing *Facing) bool {
	f.run(p, within, facing, true)
	return f.found
}

const (
	// kernelError is what a kernel may be wrong by, relative to the distance and
	// the longest side. A triangle may seem nearer than it is where a point just
	// outside is taken for inside: by 7 roundings across a side, and at a tip by
	// 1/sin of half its angle times that, 8 times for the sharpest that is not unsure.
	// That it seems farther takes some 20 roundings.
	kernelError = 64 * half32
	// rounding is the most that rounding a coordinate to float32 changes, and some more.
	rounding = 1.1 * half32
	// tiny32 keeps a limit of zero from being lost among float32's smallest numbers.
	tiny32 = 1e-30
	// turnError is far above the rounding of a product of two rounded unit vectors.
	turnError = 16 * half32
)

// setLimit leaves out what is farther than d.
func (f *Finder) setLimit(d float64) {
	d = float64(d*(1+kernelError)) + float64(f.probe.slack)
	if l := float32(d*d*(1+4*half32)) + tiny32; l < f.probe.limit {
		f.probe.limit = l
	}
}

func (f *Finder) run(p geom.Vec, within float64, facing *Facing, first bool) {
	moved2 := p.Sub(f.p).Norm2()
	f.p, f.facing, f.first, f.found = p, facing, first, false
	f.best = Answer{Dist2: within * within}
	if !(within >= 0) || !p.IsFinite() {
		return
	}
	f.ask(p.Sub(f.t.origin), within)
	if f.have {
		was := f.leaf
		f.visit(was)
		if f.isNear(was, moved2) {
			f.climb(was)
			f.settle()
			return
		}
	}
	f.descend(f.lowest())
	f.settle()
}

// lowest returns the lowest place above the last answer's leaf outside of which nothing can be near enough.
func (f *Finder) lowest() ref {
	t := f.t
	if !f.have || math.IsInf(float64(f.probe.limit), 1) {
		return t.root
	}
	lo, hi := f.probe.around(f.probe.limit)
	for at := t.above[f.leaf]; at != nowhere; at = t.nodes[at.node()].up {
		if n := at.node(); t.nodes[n].holds(&lo, &hi) {
			return ref(n)
		}
	}
	return t.root
}

// ask sets the probe; rel is the point relative to the tree's origin.
func (f *Finder) ask(rel geom.Vec, within float64) {
	q := &f.probe
	q.x, q.y, q.z = float32(rel.X), float32(rel.Y), float32(rel.Z)
	// Both the triangle that is found and the one it is compared with may be off.
	q.slack = float32(2*(f.t.error+float64(rounding*(math.Abs(rel.X)+math.Abs(rel.Y)+math.Abs(rel.Z))))) + tiny32
	q.scale = 1 + 2*kernelError
	q.dir, q.mayFace, q.faces = [3]float32{}, -1, -1
	if d := f.facing; d != nil {
		q.dir = [3]float32{float32(d.Dir.X), float32(d.Dir.Y), float32(d.Dir.Z)}
		q.mayFace, q.faces = float32(d.MinCos-turnError), float32(d.MinCos+turnError)
	}
	q.limit, q.boxed = float32(math.Inf(1)), -1
	f.setLimit(within)
}

// isNear reports whether the question moved so little since the last one, against the size of its
// answer's leaf, that the best distance found there is about the answer. Then the search
// goes on from that leaf, else from above, nearer boxes first. It decides speed alone; measured.
func (f *Finder) isNear(leaf uint32, moved2 float64) bool {
	return moved2 <= float64(f.t.diagonal2(leaf))
}

// diagonal2 returns the squared diagonal of a leaf's box, infinite where there is but one leaf.
func (t *Tree) diagonal2(leaf uint32) float32 {
	at := t.above[leaf]
	if at == nowhere {
		return float32(math.Inf(1))
	}
	n, k := &t.nodes[at.node()], at.child()
	x, y, z := n.hi[0][k]-n.lo[0][k], n.hi[1][k]-n.lo[1][k], n.hi[2][k]-n.lo[2][k]
	return float32(x*x) + float32(y*y) + float32(z*z)
}

// climb looks at everything but one leaf, from its neighbours upward, until nothing
// else can be near enough.
func (f *Finder) climb(leaf uint32) {
	t := f.t
	lo, hi := f.probe.around(f.probe.limit)
	for at := t.above[leaf]; at != nowhere && !(f.first && f.found); {
		n := &t.nodes[at.node()]
		mask := f.boxes(at.node()) &^ (1 << at.child())
		at = n.up
		top := 0
		for ; mask != 0; mask &= mask - 1 {
			k := bits.TrailingZeros32(mask) & (width - 1)
			if r := n.to[k]; r.leaf() {
				f.visit(r.index())
			} else {
				f.stack[top] = pending{r, f.d2[k]}
				top++
			}
		}
		if top > 0 {
			f.scan(top)
		}
		if n.holds(&lo, &hi) {
			return
		}
	}
}

// scan looks at all that waits on the stack and below in any order, which is
// enough once the limit is about what the answer will be.
func (f *Finder) scan(top int) {
	for top > 0 && !(f.first && f.found) {
		top--
		next := f.stack[top]
		if next.dist2 > f.probe.limit {
			continue
		}
		n := &f.t.nodes[next.to]
		for mask := f.boxes(uint32(next.to)); mask != 0; mask &= mask - 1 {
			k := bits.TrailingZeros32(mask) & (width - 1)
			if r := n.to[k]; !r.leaf() {
				f.stack[top] = pending{r, f.d2[k]}
				top++
			} else if f.d2[k] <= f.probe.limit {
				f.visit(r.index())
			}
		}
	}
}

// descend looks at everything below a node or leaf, nearer boxes first.
func (f *Finder) descend(r ref) {
	f.stack[0] = pending{r, 0}
	for top := 1; top > 0 && !(f.first && f.found); {
		top--
		next := f.stack[top]
		switch {
		case next.dist2 > f.probe.limit:
		case next.to.leaf():
			f.visit(next.to.index())
		default:
			n := &f.t.nodes[next.to]
			top = f.push(top, n, f.boxes(uint32(next.to)))
		}
	}
}

// push puts the children of a node on the stack, the nearest on top.
func (f *Finder) push(top int, n *wide, mask uint32) int {
	bottom := top
	for ; mask != 0; mask &= mask - 1 {
		k := bits.TrailingZeros32(mask) & (width - 1)
		d := f.d2[k]
		at := top
		for ; at > bottom && f.stack[at-1].dist2 < d; at-- {
			f.stack[at] = f.stack[at-1]
		}
		f.stack[at] = pending{n.to[k], d}
		top++
	}
	return top
}

// boxes takes the distances to a node's children and returns the mask of those within the limit.
func (f *Finder) boxes(at uint32) uint32 {
	n := &f.t.nodes[at]
	return boxes(n, f.t.packedNode(at), &f.probe, &f.d2) & n.used
}

// visit looks at a leaf: at all triangles in float32, and keeps those that may be the closest.
func (f *Finder) visit(at uint32) {
	l := &f.t.leaves[at]
	mask := triangles(l, f.t.packedLeaf(at), &f.probe, &f.near)
	for ; mask != 0; mask &= mask - 1 {
		k := bits.TrailingZeros32(mask) & (width - 1)
		if f.first {
			f.final(at, uint32(k))
			continue
		}
		if len(f.chosen) == chosenMost {
			f.settle()
		}
		f.chosen = append(f.chosen, candidate{at, uint32(k), f.near[k]})
	}
}

// settle looks at the candidates in float64.
func (f *Finder) settle() {
	for i := range f.chosen {
		if c := &f.chosen[i]; !(c.dist2 > f.probe.limit) {
			f.final(c.leaf, c.lane)
			if len(f.chosen) > 1 {
				f.setLimit(math.Sqrt(f.best.Dist2))
			}
		}
	}
	f.chosen = f.chosen[:0]
}

func (f *Finder) final(at, lane uint32) {
	l := &f.t.leaves[at]
	face := l.face[lane&(width-1)]
	if face == noFace {
		return
	}
	face &^= unsure
	a, b, c := f.t.corners(l, lane&(width-1))
	q, feature := geom.ClosestOnTriangle(f.p, a, b, c)
	d := q.Sub(f.p).Norm2()
	if !(d <= f.best.Dist2) || f.found && d == f.best.Dist2 && face >= f.best.Face {
		return
	}
	if f.facing != nil && !(b.Sub(a).Cross(c.Sub(a)).Unit().Dot(f.facing.Dir) >= f.facing.MinCos) {
		return
	}
	f.best = Answer{q, d, face, feature}
	f.found, f.leaf, f.have = true, at, true
	f.probe.first = lane
}
