package pieces

import (
	"math"
	"slices"

	"shutline/deviation/align"
	"shutline/mesh/geom"
)

const (
	// twinLooks points of an overlap are looked at, evenly.
	twinLooks = 1000
	// twinLeast of them tell.
	twinLeast = 100
	// twinNear in mm is how near one of the other piece's points must lie to be the same: a tenth of what good scanners scatter by, and more than
	// moving it in single precision leaves up to some metres; farther out twinRounding of the coordinate.
	twinNear     = 0.001
	twinRounding = 4.0 / (1 << 24)
	// twinShare of the points are the same in a copy or a cut: half, as a cut may be remeshed along its edge.
	twinShare = 0.5
)

// refuseTwins refuses two pieces that hold the same points where they overlap: one scan twice, moved or not, or two cuts of one
// scan. No two scans of one body do, and what their overlap leaves, nothing, says nothing of how scans fit. spread is that of the fit, mm.
func (c *contact) refuseTwins(bFromA geom.Rigid, spread float64) error {
	looked, same, most := c.samePoints(bFromA)
	if !mostly(same, looked) && c.slides(spread) {
		if g, ok := c.byFaces(bFromA); ok {
			looked, same, most = c.samePoints(g)
		}
	}
	if !mostly(same, looked) {
		return nil
	}
	return refusal("%s and %s hold the same points where they overlap: %d of %d that were looked at agree to %.2g mm, as no two scans do; they are one scan twice, or cuts of one, and tell nothing of how scans fit, so name each once, or join what was scanned by itself",
		c.a.name, c.b.name, same, looked, max(most, 1e-6))
}

func mostly(same, looked int) bool {
	return looked >= twinLeast && float64(same) >= float64(twinShare*float64(looked))
}

// samePoints counts, of the points looked at, those that lie on one of the other piece's under a motion, and how far apart these are, mm.
func (c *contact) samePoints(bFromA geom.Rigid) (looked, same int, most float64) {
	aFromB := bFromA.Inverse()
	near := max(twinNear, float64(twinRounding*max(farthest(c.a.box), farthest(c.b.box))))
	for i := 0; i < len(c.samples); i += len(c.samples)/twinLooks + 1 {
		if !c.matches[i].paired {
			continue
		}
		s := &c.samples[i]
		from, on, find, g := c.a, c.b, c.findB[0], bFromA
		if s.onB {
			from, on, find, g = c.b, c.a, c.findA[0], aFromB
		}
		p := g.Apply(from.mesh.Vertices[s.vertex])
		hit, ok := find.ClosestFacing(p, g.ApplyDir(s.n), cosPair, on.spacing)
		looked++
		if !ok {
			continue
		}
		d := math.Inf(1)
		for _, v := range on.mesh.Faces[hit.Face] {
			d = min(d, on.mesh.Vertices[v].Dist(p))
		}
		if d <= near {
			same++
			most = max(most, d)
		}
	}
	return looked, same, most
}

// slides reports whether the skins hold a motion so weakly that a copy may have come to rest beside where it was copied from.
func (c *contact) slides(spread float64) bool {
	mean, _, _ := c.system(spread)
	values, _ := mean.Eigen()
	return slices.Min(values[:]) < weakFloor
}

const (
	// edgeNear in mm is what edges of one length differ by where a copy was moved and rounded to single precision.
	edgeNear = 0.002
	// faceRounds of leaving out what lies farther than faceFar medians off find the motion that most faces share.
	faceRounds, faceFar = 8, 3.0
	// facesAlike: of distinct faces that many at the most have the edges of one looked at.
	facesAlike = 4
	// facePairs of all are enough to tell the motion of each round.
	facePairs = 40
)

func thinnedPairs(pairs []align.Pair) []align.Pair {
	var out []align.Pair
	for k := 0; k < len(pairs); k += len(pairs)/facePairs + 1 {
		out = append(out, pairs[k])
	}
	return out
}

// byFaces finds the motion of a copy that slid by its faces, which keep the lengths of their edges wherever a copy is moved: that of most of
// the first piece's faces onto faces of the second piece with the same three edges, near where the fit has them.
func (c *contact) byFaces(bFromA geom.Rigid) (geom.Rigid, bool) {
	at := map[[3]int32][]geom.Vec{} // the middles of faces, by their edges in cells of edgeNear
	looked := 0
	near := geom.EmptyBox() // in the second piece's frame
	for i := 0; i < len(c.samples); i += len(c.samples)/twinLooks + 1 {
		s := &c.samples[i]
		if s.onB || !c.matches[i].paired {
			continue
		}
		hit, ok := c.findA[0].ClosestFacing(s.p, c.a.normals[s.vertex], cosPair, c.a.spacing)
		if !ok {
			continue
		}
		looked++
		edges, middle := edgesOf(c.a, hit.Face)
		near = near.Extend(bFromA.Apply(middle))
		for k := range 8 { // the cells that an edge as long may fall into
			var key [3]int32
			for e, l := range edges {
				key[e] = int32(math.Floor(l/edgeNear - 0.5))
				if k>>e&1 == 1 {
					key[e]++
				}
			}
			at[key] = append(at[key], middle)
		}
	}
	near = near.Grow(roughReach)
	var pairs []align.Pair
	for f, face := range c.b.mesh.Faces {
		if !near.Contains(c.b.mesh.Vertices[face[0]]) {
			continue
		}
		edges, middle := edgesOf(c.b, uint32(f))
		var key [3]int32
		for e, l := range edges {
			key[e] = int32(math.Floor(l / edgeNear))
		}
		for _, p := range at[key] {
			if bFromA.Apply(p).Dist(middle) <= roughReach {
				pairs = append(pairs, align.Pair{Scan: p, Reference: middle})
			}
		}
	}
	g := bFromA
	if len(pairs) > facesAlike*looked { // the faces of an even grid are all alike
		return g, false
	}
	for range faceRounds {
		if !mostly(len(pairs), looked) {
			return g, false
		}
		fit, err := align.FitPairs(thinnedPairs(pairs), geom.EmptyBox())
		if err != nil {
			return g, false
		}
		g = fit.ReferenceFromScan
		var off []float64
		for _, p := range pairs {
			off = append(off, g.Apply(p.Scan).Dist(p.Reference))
		}
		most := faceFar * max(median(slices.Clone(off)), twinNear)
		kept := pairs[:0]
		for i, p := range pairs {
			if off[i] <= most {
				kept = append(kept, p)
			}
		}
		pairs = kept
	}
	return g, true
}

// edgesOf returns the lengths of a face's edges, the shortest first, and its middle.
func edgesOf(b *body, face uint32) (edges [3]float64, middle geom.Vec) {
	p, q, r := b.mesh.Corners(face)
	edges = [3]float64{p.Dist(q), q.Dist(r), r.Dist(p)}
	slices.Sort(edges[:])
	return edges, p.Add(q).Add(r).Scale(1.0 / 3)
}

// farthest returns the largest coordinate of a box, without its sign.
func farthest(b geom.Box) float64 {
	out := 0.0
	for k := range 3 {
		out = max(out, math.Abs(b.Lo.At(k)), math.Abs(b.Hi.At(k)))
	}
	return out
}
