package gapflush

import (
	"math"
)

// pt is a point of the band in a station's frame with its normal. Seen from a
// side, y runs along the skin toward the gap; ny is the normal's part along it.
type pt struct{ x, y, h, ny, nh float64 }

// reachAlong is how far along the seam points are gathered: the mid-line is
// fitted over ±15 mm, from slabs half as wide again as their spacing.
const reachAlong = 17.0

// vertices returns the vertices up to along before and after the station as side A sees them (y = s).
func (o *patch) vertices(r *frame, along, window float64, scratch []run, out []pt) ([]pt, []run) {
	runs := collectIn(o.verts, r, along, window, window, scratch[:0])
	out = out[:0]
	for _, in := range runs {
		normals := o.n[in.from:in.to]
		for i, v := range o.v[in.from:in.to] {
			d := v.Sub(r.p)
			x := d.Dot(r.f)
			if math.Abs(x) > along {
				continue
			}
			s, h := d.Dot(r.a), d.Dot(r.u)
			if math.Abs(s) > window || math.Abs(h) > window {
				continue
			}
			n := &normals[i]
			out = append(out, pt{x, s, h, n.Dot(r.a), n.Dot(r.u)})
		}
	}
	return out, runs
}

const (
	sampleStep  = 1.0  // mm between the cuts a coarse mesh is sampled on
	sampleReach = 16.0 // mm along the seam, to the last cuts
	sampleGap   = 0.7  // mm between samples on one cut at most
)

// samples returns points on the faces instead, along cuts 1 mm apart: cuts meet
// the edges of the mesh, whose points lie on the true surface or nearly so, and
// long chords are filled in.
func (o *patch) samples(r *frame, window float64, scratch []run, out []pt) ([]pt, []run) {
	runs := append(collectIn(o.faces, r, reachAlong+o.far, window+o.far, window+o.far, scratch[:0]), o.large)
	out = out[:0]
	for face := range o.each(runs) {
		if x, s, h := r.local(face.mid); math.Abs(x) > sampleReach+face.farthest+rounding || math.Abs(s) > window+face.farthest+rounding || math.Abs(h) > window+face.farthest+rounding {
			continue
		}
		n := face.n.Unit()
		ny, nh := n.Dot(r.a), n.Dot(r.u)
		var c [3][3]float64
		lo, hi := math.Inf(1), math.Inf(-1)
		for k, v := range face.corner {
			c[k][0], c[k][1], c[k][2] = r.local(o.v[v])
			lo, hi = min(lo, c[k][0]), max(hi, c[k][0])
		}
		first := max(math.Ceil(lo/sampleStep)*sampleStep, -sampleReach)
		for x := first; x <= min(hi, sampleReach); x += sampleStep {
			p, q, ok := cutTriangle(&c, x)
			if !ok {
				continue
			}
			d := Point2{q.S - p.S, q.H - p.H}
			parts := max(math.Ceil(math.Sqrt(float64(d.S*d.S)+float64(d.H*d.H))/sampleGap), 1)
			for i := 0.0; i <= parts; i++ {
				s, h := p.S+float64(d.S*i/parts), p.H+float64(d.H*i/parts)
				if math.Abs(s) <= window && math.Abs(h) <= window {
					out = append(out, pt{x, s, h, ny, nh})
				}
			}
		}
	}
	return out, runs
}

// cutTriangle cuts a triangle, given as (x, s, h) corners, at x. A corner on
// the cut counts as lying beyond it, so that neighbours meet without a crack.
func cutTriangle(c *[3][3]float64, x float64) (p, q Point2, ok bool) {
	n := 0
	for i := range 3 {
		a, b := c[i], c[(i+1)%3]
		if (a[0] < x) == (b[0] < x) {
			continue
		}
		if a[0] > b[0] {
			a, b = b, a // the same point from either neighbour, to the last bit
		}
		t := (x - a[0]) / (b[0] - a[0])
		at := Point2{a[1] + float64(t*(b[1]-a[1])), a[2] + float64(t*(b[2]-a[2]))}
		if n == 0 {
			p = at
		} else {
			q = at
		}
		n++
	}
	return p, q, n == 2
}

// mirror turns points as A sees them into points as B sees them, or back.
func mirror(in, out []pt) []pt {
	out = out[:0]
	for _, p := range in {
		p.y, p.ny = -p.y, -p.ny
		out = append(out, p)
	}
	return out
}
