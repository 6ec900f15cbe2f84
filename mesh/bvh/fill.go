package bvh

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// leafRun is the number of leaves per parallel chunk.
const leafRun = 1 << 10

// outside is a coordinate so far away that its square is still a float32.
const outside = 1e18

// fill copies the triangles into their leaves.
func (b *builder) fill(runs [][2]int, threads int, progress mesh.Progress) error {
	t := b.tree
	t.leaves = make([]leaf, len(runs))
	pages.Huge(t.leaves)
	return parallel.Chunks(b.ctx, len(runs), leafRun, threads, progress, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			l := &t.leaves[i]
			records := b.records[runs[i][0]:runs[i][1]]
			for k := range width {
				if k >= len(records) {
					l.clear(k)
					continue
				}
				face := records[k].face
				p, q, r := t.mesh.Corners(face)
				l.face[k] = face
				n := q.Sub(p).Cross(r.Sub(p))
				if t.unsureOf(p, q, r, n) {
					l.face[k] |= unsure
				}
				put(&l.a, k, p.Sub(t.origin))
				put(&l.b, k, q.Sub(t.origin))
				put(&l.c, k, r.Sub(t.origin))
				put(&l.n, k, normalOf(p, q, r, n))
			}
		}
	})
}

// normalOf returns the unit normal of a triangle given its product of two sides, or not a
// number where the triangle is so thin that the product is made of roundings and may point
// anywhere, along the triangle too: its direction is wrong by some 8 ulps of float64 times the
// square of the longest side over the product, which is under half an ulp of a float32 from
// this limit on. A triangle below it is as good as its sides, as its height is under half an
// ulp of the longest.
func normalOf(a, b, c, n geom.Vec) geom.Vec {
	longest := max(b.Sub(a).Norm2(), c.Sub(b).Norm2(), a.Sub(c).Norm2())
	size := n.Norm()
	if !(size > half32*longest) {
		return geom.Vec{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
	}
	return n.Scale(1 / size)
}

func put(rows *[3]lanes, k int, v geom.Vec) {
	rows[0][k], rows[1][k], rows[2][k] = float32(v.X), float32(v.Y), float32(v.Z)
}

func (l *leaf) clear(k int) {
	l.face[k] = noFace
	far := geom.Vec{X: outside, Y: outside, Z: outside}
	put(&l.a, k, far)
	put(&l.b, k, far)
	put(&l.c, k, far)
	// Without a normal the point counts as outside.
	l.n[0][k] = float32(math.NaN())
}

// A triangle is unsure where roundings could let the kernels take points far
// outside for inside: thinSine is the sine of the smallest angle below which its
// tip is too sharp, and roundWidths how many times what a corner is rounded by its
// height must be, so that its sides keep their directions.
const (
	thinSine    = 0.25
	roundWidths = 32
)

func (t *Tree) unsureOf(a, b, c, n geom.Vec) bool {
	u, v, w := b.Sub(a).Norm2(), c.Sub(b).Norm2(), a.Sub(c).Norm2()
	// The smallest angle lies opposite the shortest side, the least height on the longest.
	product, longest := max(float64(u*v), float64(v*w), float64(w*u)), max(u, v, w)
	least := roundWidths * t.round
	return !(n.Norm2() >= max(thinSine*thinSine*product, least*least*longest))
}
