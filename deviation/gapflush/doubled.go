package gapflush

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/order"
)

// Passes that were not joined leave a surface twice where they overlap, one over the other. Its points then lie on no
// roll, or on a far smaller one, and what a fit says of them is not what is wrong. Faces tell it: along the normal of
// one another face lies near that looks the same way.

const (
	// doubledLeast is the least distance of two passes, mm, that is one, and doubledMost the most: beyond, they are
	// two layers that height alone tells.
	doubledLeast, doubledMost = 0.02, 1.0
	// doubledAlike is the cosine of the angle that the faces of either look apart at most.
	doubledAlike = 0.7
	// doubledShare of the faces looked at with another one over or under them are a pass: single ones fold.
	doubledShare = 0.1
	// doubledBefore is up to where before an edge passes hide it, mm; from behind they do from its face zone on.
	doubledBefore = 3.0
	// doubledBand is how far along the seam from the station faces are looked at, mm.
	doubledBand = 4.0
	// doubledLooked is how many faces of a side are looked at, at most.
	doubledLooked = 64
)

// orDoubled returns the state of a station without a gap and its reason, or that its surface lies doubled or looks opposite ways, where it does.
func (c *cutter) orDoubled(w *worker, o *raw, state State, why string) (State, string) {
	if state != Measured && state != Bridged && !c.reference && c.patch.opposed(o.frame.p, o.frame.f, w) {
		return TwoSkins, with("The faces of the two panels look opposite ways here: those of one are turned round, or its inside is seen.", doTurnPanel)
	}
	switch state {
	case NoseUnseen, TooCoarse, TwoSkins, NoFace:
	default:
		return state, why
	}
	if c.reference || !o.traced {
		return state, why
	}
	for k := A; k <= B; k++ {
		apart, ok := c.doubled(w, o, k)
		if !ok {
			continue
		}
		if state == TooCoarse {
			state = TwoSkins
		}
		return state, with(fmt.Sprintf("Side %s's surface lies doubled, as of passes that were not joined, %.2f mm one over the other: which of them its edge belongs to cannot be told.", sideName[k], apart), doJoinPasses)
	}
	return state, why
}

// doubled reports whether a side's surface lies doubled about its edge, and how far apart, mm.
func (c *cutter) doubled(w *worker, o *raw, k Side) (apart float64, ok bool) {
	flip := 1.0
	if k == B {
		flip = -1
	}
	end, behind := o.ends[k], c.seam.Face[1]
	w.runs = collectIn(c.patch.faces, &o.frame, doubledBand+doubledMost, math.Abs(end)+behind, cellSize, w.runs[:0])
	var faces []*patchFace
	for t := range c.patch.each(w.runs) {
		x, y, h := o.frame.local(t.mid)
		if y *= flip; math.Abs(x) <= doubledBand && y >= end-behind && y <= end+doubledBefore && math.Abs(h-o.lines[k].at(x, y)) < doubledBefore {
			faces = append(faces, t)
		}
	}
	step := max(len(faces)/doubledLooked, 1)
	looked := 0
	var off []float64
	for i := step / 2; i < len(faces); i += step {
		t := faces[i]
		n := t.n.Unit()
		if looked++; n == (geom.Vec{}) {
			continue
		}
		nearest := math.Inf(1)
		for _, other := range faces {
			if other == t || other.n.Dot(n) < doubledAlike*other.long {
				continue
			}
			if d := other.mid.Sub(t.mid); d.Norm2() > (other.farthest+doubledMost)*(other.farthest+doubledMost) {
				continue
			}
			if d, hit := c.patch.along(t.mid, n, other); hit && d < nearest {
				nearest = d
			}
		}
		if nearest >= doubledLeast && nearest <= doubledMost {
			off = append(off, nearest)
		}
	}
	if looked == 0 || float64(len(off)) < doubledShare*float64(looked) || len(off) < minSeeds {
		return 0, false
	}
	return order.Nth(off, len(off)/2), true
}

// along returns how far from p a line along n goes through a face, either way; hit: it does.
func (o *patch) along(p, n geom.Vec, t *patchFace) (far float64, hit bool) {
	over := t.n.Dot(n)
	if over == 0 {
		return 0, false
	}
	v := [3]geom.Vec{o.v[t.corner[0]], o.v[t.corner[1]], o.v[t.corner[2]]}
	far = v[0].Sub(p).Dot(t.n) / over
	q := p.AddScaled(far, n)
	for i := range v {
		if v[(i+1)%3].Sub(v[i]).Cross(q.Sub(v[i])).Dot(t.n) < 0 {
			return 0, false
		}
	}
	return math.Abs(far), true
}
