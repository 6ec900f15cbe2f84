package bvh

import (
	"math"

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
	t    *Tree
	leaf ref
	up   uint32 // node and side above leaf
	have bool
	s    search
}

// NewFinder returns a finder.
func (t *Tree) NewFinder() *Finder { return &Finder{t: t} }

// search is one question while it is answered.
type search struct {
	t         *Tree
	p         geom.Vec
	x, y, z   float32 // p relative to the tree's origin
	slack     float64
	limit     float32 // boxes further than this, squared, are left out
	best      Answer
	found     bool
	facing    *Facing
	first     bool // stop at the first face within the limit
	leaf      ref
	leafAbove uint32
	stack     [maxDepth]pending
}

// Relative rounding of a float32, and what a squared distance to a box,
// computed in float32 from exact inputs, may be too large by: three
// differences, three squares, two sums, each within half an ulp.
const (
	half32   = 1.0 / (1 << 24)
	boxError = 8 * half32
	// tiny32 keeps a limit of zero from being lost among float32's smallest numbers.
	tiny32 = 1e-30
)

// slack returns how much further than it is, in mm, a box may seem because p
// (relative to the tree's origin) was rounded to float32: half an ulp on each
// axis, doubled, and the tree's own grain.
func (t *Tree) slack(p geom.Vec) float64 {
	return 2*half32*(math.Abs(p.X)+math.Abs(p.Y)+math.Abs(p.Z)) + t.grain
}

// setLimit derives the box limit from the best squared distance.
func (s *search) setLimit() {
	d := math.Sqrt(s.best.Dist2) + s.slack
	s.limit = float32(d*d*(1+2*boxError)) + tiny32
}

// Closest returns the closest point within the given distance in mm (inclusive,
// may be infinite); facing may be nil. Of equally close faces the lowest is returned.
func (f *Finder) Closest(p geom.Vec, within float64, facing *Facing) (Answer, bool) {
	f.run(p, within, facing, false)
	return f.s.best, f.s.found
}

// Any reports whether a face lies within the given distance in mm.
func (f *Finder) Any(p geom.Vec, within float64, facing *Facing) bool {
	f.run(p, within, facing, true)
	return f.s.found
}

func (f *Finder) run(p geom.Vec, within float64, facing *Facing, first bool) {
	s := &f.s
	s.t, s.p, s.facing, s.first, s.found = f.t, p, facing, first, false
	s.best = Answer{}
	if !(within >= 0) || !p.IsFinite() {
		return
	}
	rel := p.Sub(f.t.origin)
	s.x, s.y, s.z = float32(rel.X), float32(rel.Y), float32(rel.Z)
	s.slack = f.t.slack(rel)
	s.best.Dist2 = within * within
	s.setLimit()
	if f.have {
		s.visitLeaf(f.leaf, f.up)
		if s.found && (f.up == noParent || s.limit <= climbReach*f.t.leafSpan2(f.up)) {
			s.climb(f.up)
			f.leaf, f.up = s.leaf, s.leafAbove
			return
		}
	}
	if s.boxDist2(&f.t.bounds) <= s.limit {
		s.descend(f.t.root, noParent)
	}
	if s.found {
		f.leaf, f.up, f.have = s.leaf, s.leafAbove, true
	}
}

// climbReach is how far, in squared diagonals of the last answer's leaf, the
// best distance found there may be for the search to go on from that leaf
// instead of from the root. It decides speed alone; measured.
const climbReach = 4

func (t *Tree) leafSpan2(above uint32) float32 {
	b := &t.nodes[above>>1].child[above&1]
	x, y, z := b.hi[0]-b.lo[0], b.hi[1]-b.lo[1], b.hi[2]-b.lo[2]
	return x*x + y*y + z*z
}

func (s *search) boxDist2(b *box) float32 {
	dx := max(b.lo[0]-s.x, s.x-b.hi[0], 0)
	dy := max(b.lo[1]-s.y, s.y-b.hi[1], 0)
	dz := max(b.lo[2]-s.z, s.z-b.hi[2], 0)
	return dx*dx + dy*dy + dz*dz
}

// climb looks at everything but the leaf below the given place, from its neighbours upward.
func (s *search) climb(above uint32) {
	for above != noParent && !(s.first && s.found) {
		n := &s.t.nodes[above>>1]
		other := above&1 ^ 1
		if s.boxDist2(&n.child[other]) <= s.limit {
			s.descend(n.to[other], above>>1<<1|other)
		}
		above = n.up
	}
}

type pending struct {
	to    ref
	above uint32
	dist2 float32
}

// descend looks at a subtree, nearer children first.
func (s *search) descend(r ref, above uint32) {
	stack := &s.stack
	top := 0
	for {
		if r&leafBit != 0 {
			s.visitLeaf(r, above)
			if s.first && s.found {
				return
			}
		} else {
			n := &s.t.nodes[r]
			d0, d1 := s.boxDist2(&n.child[0]), s.boxDist2(&n.child[1])
			near, far := uint32(0), d1
			if d1 < d0 {
				near, d0, far = 1, d1, d0
			}
			if d0 <= s.limit {
				if far <= s.limit {
					stack[top] = pending{n.to[near^1], uint32(r)<<1 | near ^ 1, far}
					top++
				}
				above = uint32(r)<<1 | near
				r = n.to[near]
				continue
			}
		}
		for {
			if top == 0 {
				return
			}
			top--
			if stack[top].dist2 <= s.limit {
				break
			}
		}
		r, above = stack[top].to, stack[top].above
	}
}

func (s *search) visitLeaf(r ref, above uint32) {
	start, end := r.run()
	for i := start; i < end; i++ {
		t := &s.t.tri[i]
		q, feature := geom.ClosestOnTriangle(s.p, t.a, t.b, t.c)
		d := q.Sub(s.p).Norm2()
		if !(d <= s.best.Dist2) {
			continue
		}
		face := s.t.face[i]
		if s.found && d == s.best.Dist2 && face >= s.best.Face {
			continue
		}
		if s.facing != nil && !(t.b.Sub(t.a).Cross(t.c.Sub(t.a)).Unit().Dot(s.facing.Dir) >= s.facing.MinCos) {
			continue
		}
		s.best = Answer{q, d, face, feature}
		s.found, s.leaf, s.leafAbove = true, r, above
		s.setLimit()
	}
}
