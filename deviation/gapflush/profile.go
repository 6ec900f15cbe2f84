package gapflush

import (
	"math"
	"math/bits"
	"slices"
)

// picturePoints is the most points a station keeps for its picture.
const picturePoints = 600

// picture keeps the cut and the carried points; gathered: w holds those of the band already.
func (c *cutter) picture(w *worker, o *raw, gathered bool) {
	r := &o.frame
	if !gathered || c.seam.Window > c.farthest() {
		c.gatherWithin(w, r, c.seam.Band, c.seam.Window)
	}
	kept := w.kept[:0]
	for _, p := range w.a {
		if math.Abs(p.x) > c.seam.Band {
			continue
		}
		k := A
		if p.y > 0 {
			k = B
		}
		cv := &o.curves[k]
		flip := 1.0
		if k == B {
			flip = -1
		}
		kept = append(kept, Point2{p.y - float64(flip*(float64(cv.s1*p.x)+float64(cv.s2*p.x*p.x))), p.h - (cv.h(p.x) - cv.h0)})
	}
	w.kept = kept
	step := max((len(kept)+picturePoints-1)/picturePoints, 1)
	if len(kept) > 0 {
		o.points = make([]Point2, 0, (len(kept)+step-1)/step)
	}
	for i := 0; i < len(kept); i += step {
		o.points = append(o.points, kept[i])
	}
	o.profile = c.profile(w, r)
}

// cutPiece is where a plane cuts one face.
type cutPiece struct{ p, q Point2 }

// cutChains is memory that chaining pieces uses again.
type cutChains struct {
	pieces     []cutPiece
	heads      heads
	next       []int32
	used       []bool
	fore, back []Point2
}

// heads holds a number for each of some points, -1 to begin with: a hash table of open addresses (Peterson 1957),
// at most half full.
type heads struct {
	slots []headSlot
	shift int
}

type headSlot struct {
	at   Point2
	head int32
	used bool
}

// empty makes room for so many points and forgets those there are.
func (h *heads) empty(points int) {
	bits := bits.Len(uint(points)) + 1
	h.slots = slices.Grow(h.slots[:0], 1<<bits)[:1<<bits]
	clear(h.slots)
	h.shift = 64 - bits
}

// of returns the place of a point's number.
func (h *heads) of(p Point2) *int32 {
	// Fibonacci's hashing (Knuth 1998, 6.4); a sum with 0 is the same for either zero.
	const golden = 0x9e3779b97f4a7c15
	mixed := math.Float64bits(p.S+0)*golden ^ math.Float64bits(p.H+0)
	for i := mixed * golden >> h.shift; ; i = (i + 1) & uint64(len(h.slots)-1) {
		s := &h.slots[i]
		if !s.used {
			*s = headSlot{p, -1, true}
		}
		if s.at == p {
			return &s.head
		}
	}
}

// profile cuts the patch in the station's plane and chains the pieces.
func (c *cutter) profile(w *worker, r *frame) [][]Point2 {
	window := c.seam.Window
	far := c.patch.far
	w.runs = append(collectIn(c.patch.faces, r, far, window+far, window+far, w.runs[:0]), c.patch.large)
	pieces := w.cuts.pieces[:0]
	for t := range c.patch.each(w.runs) {
		if t.beside(r.p, r.f, 1) {
			continue
		}
		var v [3][3]float64
		beyond := 0
		for k, i := range t.corner {
			if v[k][0] = c.patch.v[i].Sub(r.p).Dot(r.f); v[k][0] >= 0 {
				beyond++
			}
		}
		if beyond == 0 || beyond == 3 {
			continue
		}
		for k, i := range t.corner {
			v[k][0], v[k][1], v[k][2] = r.local(c.patch.v[i])
		}
		p, q, ok := cutTriangle(&v, 0)
		if !ok || p == q || max(math.Abs(p.S), math.Abs(p.H)) > window || max(math.Abs(q.S), math.Abs(q.H)) > window {
			continue
		}
		pieces = append(pieces, cutPiece{p, q})
	}
	// The pieces that meet at a point are a list: its head by the point, then by
	// end (2i and 2i+1 are those of piece i), in ascending order.
	heads := &w.cuts.heads
	heads.empty(2 * len(pieces))
	next := slices.Grow(w.cuts.next[:0], 2*len(pieces))[:2*len(pieces)]
	w.cuts.pieces, w.cuts.next = pieces, next
	for end := int32(len(next)) - 1; end >= 0; end-- {
		at := pieces[end/2].p
		if end%2 == 1 {
			at = pieces[end/2].q
		}
		head := heads.of(at)
		next[end] = *head
		*head = end
	}
	used := slices.Grow(w.cuts.used[:0], len(pieces))[:len(pieces)]
	clear(used)
	w.cuts.used = used
	follow := func(from Point2, out []Point2) []Point2 {
		for {
			end := *heads.of(from)
			for end >= 0 && used[end/2] {
				end = next[end]
			}
			if end < 0 {
				return out
			}
			i := end / 2
			used[i] = true
			if pieces[i].p == from {
				from = pieces[i].q
			} else {
				from = pieces[i].p
			}
			out = append(out, from)
		}
	}
	var chains [][]Point2
	for i, s := range pieces {
		if used[i] {
			continue
		}
		used[i] = true
		fore, back := follow(s.q, w.cuts.fore[:0]), follow(s.p, w.cuts.back[:0])
		w.cuts.fore, w.cuts.back = fore, back
		line := make([]Point2, 0, len(back)+2+len(fore))
		for k := len(back) - 1; k >= 0; k-- {
			line = append(line, back[k])
		}
		chains = append(chains, append(append(line, s.p, s.q), fore...))
	}
	return chains
}

// through reports whether one piece of a station's cut runs from the face of side A to that of side B.
func (s *Station) through() bool {
	for _, line := range s.Profile {
		var behind [2]bool
		for _, p := range line {
			for k := A; k <= B; k++ {
				f := &s.Side[k]
				d := sub(p, f.Shoulder)
				on := math.Abs(dot(d, f.Normal)) <= lineReach
				behind[k] = behind[k] || on && dot(d, f.Tangent) < 0
			}
		}
		if behind[A] && behind[B] {
			return true
		}
	}
	return false
}
