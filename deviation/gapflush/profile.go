package gapflush

import "math"

// picturePoints is the most points a station keeps for its picture.
const picturePoints = 600

// picture fills in the cut and the carried points.
func (c *cutter) picture(w *worker, o *raw, st *Station) {
	r := &o.frame
	c.gather(w, r)
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
		kept = append(kept, Point2{p.y - flip*(float64(cv.s1*p.x)+float64(cv.s2*p.x*p.x)), p.h - (cv.h(p.x) - cv.h0)})
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
	w.ids = collect(c.patch.faces, r.p, window*math.Sqrt2+cellSize, w.ids[:0])
	w.ids = append(w.ids, c.patch.large...)
	type piece struct{ p, q Point2 }
	var pieces []piece
	starts := map[Point2][]int{}
	for _, f := range w.ids {
		var v [3][3]float64
		for k, i := range c.patch.f[f] {
			v[k][0], v[k][1], v[k][2] = r.local(c.patch.v[i])
		}
		p, q, ok := cutTriangle(&v, 0)
		if !ok || p == q || max(math.Abs(p.S), math.Abs(p.H)) > window || max(math.Abs(q.S), math.Abs(q.H)) > window {
			continue
		}
		starts[p] = append(starts[p], len(pieces))
		starts[q] = append(starts[q], len(pieces))
		pieces = append(pieces, piece{p, q})
	}
	used := make([]bool, len(pieces))
	follow := func(from Point2) (out []Point2) {
		for {
			next := -1
			for _, i := range starts[from] {
				if !used[i] {
					next = i
					break
				}
			}
			if next < 0 {
				return out
			}
			used[next] = true
			if pieces[next].p == from {
				from = pieces[next].q
			} else {
				from = pieces[next].p
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
