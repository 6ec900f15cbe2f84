package gapflush

import "math"

// picturePoints is the most points a station keeps for its picture.
const picturePoints = 600

// picture fills in the cut and the carried points.
func (c *cutter) picture(w *worker, o *raw, st *Station) {
	r := &o.frame
	c.gatherWithin(w, r, c.seam.Window)
	var kept []Point2
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
	step := (len(kept) + picturePoints - 1) / picturePoints
	for i := 0; i < len(kept); i += max(step, 1) {
		st.Points = append(st.Points, kept[i])
	}
	st.Profile = c.profile(w, r)
}

// profile cuts the patch in the station's plane and chains the pieces.
func (c *cutter) profile(w *worker, r *frame) [][]Point2 {
	window := c.seam.Window
	w.ids = collectIn(c.patch.faces, r, cellSize, window+cellSize, window+cellSize, w.ids[:0])
	w.ids = append(w.ids, c.patch.large...)
	type piece struct{ p, q Point2 }
	var pieces []piece
	for _, f := range w.ids {
		var v [3][3]float64
		beyond := 0
		for k, i := range c.patch.f[f] {
			if v[k][0] = c.patch.v[i].Sub(r.p).Dot(r.f); v[k][0] >= 0 {
				beyond++
			}
		}
		if beyond == 0 || beyond == 3 {
			continue
		}
		for k, i := range c.patch.f[f] {
			v[k][0], v[k][1], v[k][2] = r.local(c.patch.v[i])
		}
		p, q, ok := cutTriangle(&v, 0)
		if !ok || p == q || max(math.Abs(p.S), math.Abs(p.H)) > window || max(math.Abs(q.S), math.Abs(q.H)) > window {
			continue
		}
		pieces = append(pieces, piece{p, q})
	}
	// The pieces that meet at a point are a list: its head by the point, then by
	// end (2i and 2i+1 are those of piece i), in ascending order.
	heads := make(map[Point2]int32, len(pieces)+1)
	next := make([]int32, 2*len(pieces))
	for end := int32(len(next)) - 1; end >= 0; end-- {
		at := pieces[end/2].p
		if end%2 == 1 {
			at = pieces[end/2].q
		}
		next[end] = -1
		if h, ok := heads[at]; ok {
			next[end] = h
		}
		heads[at] = end
	}
	used := make([]bool, len(pieces))
	follow := func(from Point2) (out []Point2) {
		for {
			end, ok := heads[from]
			for ok && end >= 0 && used[end/2] {
				end = next[end]
			}
			if !ok || end < 0 {
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
		fore, back := follow(s.q), follow(s.p)
		var line []Point2
		for k := len(back) - 1; k >= 0; k-- {
			line = append(line, back[k])
		}
		chains = append(chains, append(append(line, s.p, s.q), fore...))
	}
	return chains
}
