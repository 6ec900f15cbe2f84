package pieces

import (
	"math"

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
// scan. No two scans of one body do, and what their overlap leaves, nothing, says nothing of how scans fit.
func (c *contact) refuseTwins(bFromA geom.Rigid) error {
	aFromB := bFromA.Inverse()
	looked, same, most := 0, 0, 0.0
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
	if looked < twinLeast || float64(same) < float64(twinShare*float64(looked)) {
		return nil
	}
	return refusal("%s and %s hold the same points where they overlap: %d of %d that were looked at agree to %.2g mm, as no two scans do; they are one scan twice, or cuts of one, and tell nothing of how scans fit, so name each once, or join what was scanned by itself",
		c.a.name, c.b.name, same, looked, max(most, 1e-6))
}

// farthest returns the largest coordinate of a box, without its sign.
func farthest(b geom.Box) float64 {
	out := 0.0
	for k := range 3 {
		out = max(out, math.Abs(b.Lo.At(k)), math.Abs(b.Hi.At(k)))
	}
	return out
}
