package bvh

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// record is one triangle while the tree is built: its box, with the high corner
// negated, so that the least of every entry is the box of several triangles.
// Twice its middle is lo - neg. Its layout is known to the kernels.
type record struct {
	lo   [3]float32
	face uint32
	neg  [3]float32
	_    uint32
}

// entries are a record's numbers: 0 to 2 lo and 4 to 6 neg; the others mean nothing.
type entries [8]float32

// greatest is what the least of no records is.
var greatest = func() (e entries) {
	for k := range e {
		e[k] = math.MaxFloat32
	}
	return e
}()

// middle returns twice the middle of a box along an axis.
func (e *entries) middle(axis int) float32 { return e[axis] - e[axis+4] }

// side returns the length of a box along an axis.
func (e *entries) side(axis int) float32 { return -e[axis+4] - e[axis] }

func (e *entries) longest() int {
	axis := 0
	for k := 1; k < 3; k++ {
		if e.side(k) > e.side(axis) {
			axis = k
		}
	}
	return axis
}

func (e *entries) halfArea() float32 {
	x, y, z := e.side(0), e.side(1), e.side(2)
	return float32(x*y) + float32(y*z) + float32(z*x)
}

func (e *entries) join(o *entries) {
	for k := range 3 {
		e[k] = min(e[k], o[k])
		e[k+4] = min(e[k+4], o[k+4])
	}
}

// below rounds to float32 and goes on by at least one step, so that the result is
// below x also where x itself was rounded.
func below(x float64) float32 {
	f := float32(x)
	return f - float32(float32(math.Abs(float64(f)))*(2*half32)) - math.SmallestNonzeroFloat32
}

// sizes sums up how large triangles are, in mm and mm² of their boxes' diagonals.
type sizes struct {
	sum, squares, longest float64
	least                 entries // of the records
}

// variedAt is the mean square of the boxes' diagonals in squares of their mean from
// which on triangles differ so much that splits in the middle of space would
// separate nothing from much. It decides speed alone; measured.
const variedAt = 4

// roundedCorners is how many times what a corner is rounded by a triangle may seem
// farther for it: its sides turn by up to 2 roundings over the shortest, which is at
// least a quarter of the longest (thinSine), so that a point just inside may seem
// outside of one by 8 roundings; and it is shifted by one.
const roundedCorners = 10

// recordRun is the number of triangles per parallel chunk.
const recordRun = 1 << 14

// measure takes every triangle's box and what the kernels may be wrong by.
func (b *builder) measure(threads int, progress mesh.Progress) error {
	t, m := b.tree, b.tree.mesh
	n := len(m.Faces)
	chunks := make([]sizes, (n+recordRun-1)/recordRun)
	err := parallel.Chunks(b.ctx, n, recordRun, threads, progress, func(_, chunk, lo, hi int) {
		s := &chunks[chunk]
		for f := lo; f < hi; f++ {
			p, q, r := m.Corners(uint32(f))
			box := geom.Box{
				Lo: geom.Vec{X: min(p.X, q.X, r.X), Y: min(p.Y, q.Y, r.Y), Z: min(p.Z, q.Z, r.Z)}.Sub(t.origin),
				Hi: geom.Vec{X: max(p.X, q.X, r.X), Y: max(p.Y, q.Y, r.Y), Z: max(p.Z, q.Z, r.Z)}.Sub(t.origin),
			}
			b.records[f] = record{
				lo:   [3]float32{below(box.Lo.X), below(box.Lo.Y), below(box.Lo.Z)},
				neg:  [3]float32{below(-box.Hi.X), below(-box.Hi.Y), below(-box.Hi.Z)},
				face: uint32(f),
			}
			d2 := box.Hi.Sub(box.Lo).Norm2()
			d := math.Sqrt(d2)
			s.sum, s.squares, s.longest = s.sum+d, s.squares+d2, max(s.longest, d)
		}
		s.least = leastOf(b.records[lo:hi])
	})
	all := sizes{least: greatest}
	for i := range chunks {
		c := &chunks[i]
		all.sum, all.squares, all.longest = all.sum+c.sum, all.squares+c.squares, max(all.longest, c.longest)
		all.least.join(&c.least)
	}
	b.least = all.least
	b.varied = float64(all.squares*float64(n)) > float64(variedAt*all.sum*all.sum)
	lo, hi := b.bounds.Lo.Sub(t.origin), b.bounds.Hi.Sub(t.origin)
	far := max(-lo.X, hi.X) + max(-lo.Y, hi.Y) + max(-lo.Z, hi.Z)
	t.far = far
	t.round = t.grain
	if !t.exact {
		t.round += float64(rounding * far)
	}
	t.error = float64(roundedCorners*t.round) + float64(kernelError*all.longest)
	return err
}
