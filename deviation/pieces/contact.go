package pieces

import (
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// sample is a point of one of two pieces, in that piece's frame.
type sample struct {
	p, n   geom.Vec // mm; unit, averaged over what lies around
	vertex int32
	onB    bool
}

// match is a sample with what the other piece has there, in b's frame.
type match struct {
	at     geom.Vec // mm, a's point
	n      geom.Vec // unit
	r      float64  // mm, positive where a stands proud of b
	paired bool
	border bool // the nearest place is the other piece's border
}

// contact is two pieces with samples on both, so that chords and noise of the one do not
// pull more than those of the other.
type contact struct {
	a, b    *body
	findA   []*surface.Finder // on a
	findB   []*surface.Finder // on b
	threads int
	samples []sample
	matches []match
	centre  geom.Vec // b's frame, of the samples
	lever   float64  // mm, half the diagonal of the samples' box
	floor   float64  // eigenvalues below are not moved along
	held    float64  // what floor is where the shapes of the two agree: noise feigns as much
	patch   float64  // mm, side of the patches that residuals are gathered by
}

func newContact(a, b *body, threads int) *contact {
	return &contact{a: a, b: b, findA: a.finders(threads), findB: b.finders(threads), threads: threads, floor: heldOf(a, b), held: heldOf(a, b), patch: patchSide}
}

const (
	// cosPair is 60 degrees (definitions: surface deviation).
	cosPair = 0.5
	// sampleRun is the number of samples per parallel chunk.
	sampleRun = 256
)

// pairUp finds for every sample what the other piece has within reach, mm, under a motion.
func (c *contact) pairUp(ctx context.Context, bFromA geom.Rigid, reach float64, samples []sample, out []match) error {
	aFromB := bFromA.Inverse()
	return parallel.Chunks(ctx, len(samples), sampleRun, c.threads, nil, func(worker, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			s := &samples[i]
			if s.onB {
				out[i] = match{at: s.p}
				hit, ok := c.findA[worker].ClosestFacing(aFromB.Apply(s.p), aFromB.ApplyDir(s.n), cosPair, reach)
				if ok {
					q := bFromA.Apply(hit.Point)
					out[i] = match{at: q, n: s.n, r: q.Sub(s.p).Dot(s.n), paired: !hit.Border, border: hit.Border}
				}
				continue
			}
			p, n := bFromA.Apply(s.p), bFromA.ApplyDir(s.n)
			out[i] = match{at: p}
			if hit, ok := c.findB[worker].ClosestFacing(p, n, cosPair, reach); ok {
				out[i] = match{at: p, n: n, r: p.Sub(hit.Point).Dot(n), paired: !hit.Border, border: hit.Border}
			}
		}
	})
}

// cellKey names a cube of space.
type cellKey [3]int32

func cellOf(p geom.Vec, side float64) cellKey {
	return cellKey{int32(math.Floor(p.X / side)), int32(math.Floor(p.Y / side)), int32(math.Floor(p.Z / side))}
}

const (
	// regionCell in mm is the side of the cells by which the overlap is sampled: about twice
	// the spacing of the probes.
	regionCell = 25.0
	// sampleCount points of each piece lie in an overlap's fit.
	sampleCount = 6000
	// coarseCount of each serve to come near.
	coarseCount = 1500
)

// discover finds the probes of both pieces that lie on the other under a motion and returns them as
// samples with the vertices' own normals, thinned to n of each piece.
func (c *contact) discover(ctx context.Context, bFromA geom.Rigid, reach float64) (onA, onB []int32, err error) {
	for side, from := range [2]*body{c.a, c.b} {
		// Only what lies in the other's box, widened by the reach, is asked for.
		toOther, box := bFromA, c.b.box.Grow(reach)
		if side == 1 {
			toOther, box = bFromA.Inverse(), c.a.box.Grow(reach)
		}
		var asked []sample
		for _, v := range from.probes {
			if box.Contains(toOther.Apply(from.mesh.Vertices[v])) {
				asked = append(asked, sample{p: from.mesh.Vertices[v], n: from.normals[v], vertex: v, onB: side == 1})
			}
		}
		found := make([]match, len(asked))
		if err := c.pairUp(ctx, bFromA, reach, asked, found); err != nil {
			return nil, nil, err
		}
		var hits []int32
		for i := range found {
			if found[i].paired {
				hits = append(hits, asked[i].vertex)
			}
		}
		if side == 0 {
			onA = hits
		} else {
			onB = hits
		}
	}
	return onA, onB, nil
}

// coarse takes the probes that lie on the other piece as samples.
func (c *contact) coarse(ctx context.Context, onA, onB []int32) error {
	return c.take(ctx, thinned(onA, coarseCount), thinned(onB, coarseCount))
}

func thinned(v []int32, n int) []int32 {
	if len(v) <= n {
		return v
	}
	out := make([]int32, n)
	for k := range out {
		out[k] = v[k*len(v)/n]
	}
	return out
}

// dense samples the overlap from all vertices of both pieces in the cells that the probes tell.
func (c *contact) dense(ctx context.Context, onA, onB []int32) error {
	return c.take(ctx, inCells(c.a, onA, 2), inCells(c.b, onB, 3))
}

func inCells(b *body, hits []int32, seed uint64) []int32 {
	cells := map[cellKey]bool{}
	for _, v := range hits {
		cells[cellOf(b.mesh.Vertices[v], regionCell)] = true
	}
	var in []int32
	last, known := cellKey{}, false
	for v, p := range b.mesh.Vertices {
		if b.area[v] == 0 {
			continue
		}
		if key := cellOf(p, regionCell); key != last || v == 0 {
			last, known = key, cells[key]
		}
		if known {
			in = append(in, int32(v))
		}
	}
	return spread(b.area, in, sampleCount, seed)
}

// take makes samples of vertices of both pieces, with averaged normals.
func (c *contact) take(ctx context.Context, onA, onB []int32) error {
	c.samples = make([]sample, len(onA)+len(onB))
	err := parallel.Chunks(ctx, len(c.samples), sampleRun, c.threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if i < len(onA) {
				v := onA[i]
				c.samples[i] = sample{p: c.a.mesh.Vertices[v], n: c.a.smoothNormal(v), vertex: v}
				continue
			}
			v := onB[i-len(onA)]
			c.samples[i] = sample{p: c.b.mesh.Vertices[v], n: c.b.smoothNormal(v), vertex: v, onB: true}
		}
	})
	c.matches = make([]match, len(c.samples))
	return err
}

// frame sets the centre and lever of the paired samples. It reports false where none is paired.
func (c *contact) frame() bool {
	box := geom.EmptyBox()
	for i := range c.matches {
		if c.matches[i].paired {
			box = box.Extend(c.matches[i].at)
		}
	}
	if box.Empty() {
		return false
	}
	c.centre, c.lever = box.Center(), max(box.Diagonal()/2, 1)
	return true
}

// spreadOf returns the robust standard deviation about 0 of the paired residuals, mm, and their number.
func (c *contact) spreadOf() (float64, int) {
	var size []float64
	for i := range c.matches {
		if c.matches[i].paired {
			size = append(size, math.Abs(c.matches[i].r))
		}
	}
	slices.Sort(size)
	return madScale * quantile(size, 0.5), len(size)
}
