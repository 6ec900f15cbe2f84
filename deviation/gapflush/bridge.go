package gapflush

import (
	"math"
)

// pastNose is an arc that ends clearly past the nose.
const pastNose = 97 * math.Pi / 180

// bridged looks for faces across the middle of the gap. Above the noses they
// hide the edges; deeper ones count while a nose was not seen.
func (c *cutter) bridged(o *raw, w *worker) (State, string) {
	r := &o.frame
	sa, sb := &o.side[A], &o.side[B]
	// Between the noses along the master's face: square to the station's frame a wide roll may reach beyond a narrow one's nose.
	master := c.seam.Master
	edges := [2]outline{outlineOf(A, sa, [5]float64{}), outlineOf(B, sb, [5]float64{})}
	t, n2 := edges[master].tangent, edges[master].normal
	if master == B {
		t = Point2{-t.S, -t.H}
	}
	ya, yb := dot(t, edges[A].noseAlong(t)), dot(t, edges[B].noseAlong(Point2{-t.S, -t.H}))
	if yb-ya < 0.1 {
		return "", ""
	}
	mid := float64((ya + yb) / 2)
	top := min(dot(n2, edges[A].shoulder), dot(n2, edges[B].shoulder))
	r0 := max(sa.edge.r, sb.edge.r)
	floor := top - r0 - 0.2
	if sa.edge.seen < 80*math.Pi/180 || sb.edge.seen < 80*math.Pi/180 {
		floor = top - r0 - 3
	}
	if sa.edge.seen >= pastNose && sb.edge.seen >= pastNose {
		// Both were seen past their noses: what lies below the middle of the rolls hides
		// nothing, a seal for instance.
		floor = top - float64(0.6*r0)
	}
	slope := (o.curves[A].s1 - o.curves[B].s1) / 2
	far := c.patch.far
	w.runs = append(collectIn(c.patch.faces, r, c.seam.Band+far, gapReach+far, 2*cellSize, w.runs[:0]), c.patch.large)
	const bins = 16
	var hit [bins]bool
	band := min(c.seam.Band, 8)
	lean := math.Sqrt(1 + float64(slope*slope))
	toB, up := r.a.Scale(t.S).AddScaled(t.H, r.u), r.a.Scale(n2.S).AddScaled(n2.H, r.u)
	across := toB.AddScaled(-slope, r.f)
	middle := r.p.AddScaled(mid, toB)
	for t := range c.patch.each(w.runs) {
		if t.beside(middle, across, lean) {
			continue
		}
		var v [3][3]float64
		beyond := 0
		for k, i := range t.corner {
			d := c.patch.v[i].Sub(r.p)
			x := d.Dot(r.f)
			v[k][0], v[k][1] = d.Dot(toB)-mid-float64(slope*x), x
			if v[k][0] >= 0 {
				beyond++
			}
		}
		if beyond == 0 || beyond == 3 {
			continue
		}
		for k, i := range t.corner {
			v[k][2] = c.patch.v[i].Sub(r.p).Dot(up)
		}
		p, q, ok := cutTriangle(&v, 0) // S is x, H is h here
		if !ok || max(p.H, q.H) < floor || min(p.H, q.H) > top+6 {
			continue
		}
		i, j := binOf(min(p.S, q.S), band, bins), binOf(max(p.S, q.S), band, bins)
		for ; i <= j; i++ {
			if i >= 0 && i < bins {
				hit[i] = true
			}
		}
	}
	n := 0
	for _, h := range hit {
		if h {
			n++
		}
	}
	if n*2 >= bins || hit[bins/2-1] || hit[bins/2] {
		return Bridged, "Faces run across the gap, so its edges cannot be seen."
	}
	return "", ""
}

func binOf(x, band float64, bins int) int {
	return int(math.Floor((min(max(x, -1000), 1000) + band) / (2 * band) * float64(bins)))
}
