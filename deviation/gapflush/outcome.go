package gapflush

import (
	"math"

	"shutline/deviation/verdict"
)

// sideState is what the outcome of a station is computed from, of one side.
type sideState struct {
	face  face
	edge  edge
	uc    float64 // standard uncertainty of the face's curvature, 1/mm
	pitch float64 // mm, spacing of points on the edge; 0 where none was found
	off   float64 // mm, what the points before the shoulder say the carried-on face is out by
}

// figures of a station, and the fitted edges they come from.
type figures struct {
	gap, flush, angle float64
	edges             [2]outline
}

// outline is a fitted edge in the station's plane (S along a, H along u).
type outline struct {
	shoulder, tangent, normal, centre Point2
	r                                 float64
	nose                              Point2 // of a chamfer
	kind                              EdgeKind
}

func sub(a, b Point2) Point2  { return Point2{a.S - b.S, a.H - b.H} }
func dot(a, b Point2) float64 { return float64(a.S*b.S) + float64(a.H*b.H) }
func along(a Point2, k float64, d Point2) Point2 {
	return Point2{a.S + float64(k*d.S), a.H + float64(k*d.H)}
}
func length(a Point2) float64 { return math.Sqrt(dot(a, a)) }

func outlineOf(k Side, s *sideState, d [5]float64) outline {
	f := s.face
	f.h0 += d[0]
	f.m += d[1]
	f.c += d[2]
	es, er := s.edge.s+d[3], s.edge.r+d[4]
	flip := 1.0
	if k == B {
		flip = -1
	}
	m := f.slope(es)
	q := math.Sqrt(1 + float64(m*m))
	o := outline{kind: s.edge.kind, shoulder: Point2{flip * es, f.at0(es)}, tangent: Point2{flip / q, m / q}, normal: Point2{-flip * m / q, 1 / q}}
	if s.edge.kind == Round {
		o.r = er
	}
	o.centre = along(o.shoulder, -o.r, o.normal)
	o.nose = o.shoulder
	if s.edge.kind == Chamfer {
		o.nose = along(along(o.shoulder, er, o.tangent), -er*s.edge.fall, o.normal)
	}
	return o
}

// noseAlong is the first point, from the face on, that stops advancing along t.
func (o *outline) noseAlong(t Point2) Point2 {
	if o.kind != Round {
		return o.nose
	}
	return along(o.centre, o.r, t)
}

func evaluate(s *[2]sideState, d *[2][5]float64, master Side) figures {
	o := [2]outline{outlineOf(A, &s[A], d[A]), outlineOf(B, &s[B], d[B])}
	mo, ot := &o[master], &o[1-master]
	t, n := mo.tangent, mo.normal
	back := Point2{-t.S, -t.H}
	g := figures{edges: o}
	g.gap = dot(t, sub(ot.noseAlong(back), mo.noseAlong(t)))
	g.flush = dot(n, sub(ot.shoulder, mo.shoulder))
	// The other face's direction away from the gap; it falls away when it points below t.
	away := Point2{-ot.tangent.S, -ot.tangent.H}
	g.angle = math.Atan2(-dot(away, n), dot(away, t))
	return g
}

// reach is how far an edge counts for the feeler: in radians from the shoulder to
// 30° past its nose; 1, from shoulder to nose, for what is not round.
func (o *outline) reach(t Point2) float64 {
	if o.kind != Round || o.r == 0 {
		return 1
	}
	return math.Atan2(dot(t, o.tangent), dot(t, o.normal)) + math.Pi/6
}

// at returns the edge's point at u: radians on a roll, else the share of the way to the nose.
func (o *outline) at(u float64) Point2 {
	if o.kind != Round || o.r == 0 {
		return along(o.shoulder, u, sub(o.nose, o.shoulder))
	}
	sn, cs := math.Sincos(u)
	return along(along(o.centre, o.r*sn, o.tangent), o.r*cs, o.normal)
}

// touch is where a feeler touches two edges: its length and the places on them.
type touch struct{ length, a, b float64 }

// along returns the direction of the feeler from a to b.
func (c *touch) along(a, b *outline) Point2 {
	d := sub(b.at(c.b), a.at(c.a))
	l := length(d)
	return Point2{d.S / l, d.H / l}
}

// feeler finds the shortest distance between the two fitted edges, length 0 when
// they cross. Two rolls have it in closed form where the line through their
// centres meets both within what belongs to them; ends are tried in any case.
func feeler(a, b *outline, t Point2) touch {
	const steps = 48
	back := Point2{-t.S, -t.H}
	ra, rb := a.reach(t), b.reach(back)
	na, nb := 1, 1
	if a.r > 0 {
		na = steps
	}
	if b.r > 0 {
		nb = steps
	}
	var pa, pb [steps + 1]Point2
	for i := 0; i <= na; i++ {
		pa[i] = a.at(ra * float64(i) / float64(na))
	}
	for i := 0; i <= nb; i++ {
		pb[i] = b.at(rb * float64(i) / float64(nb))
	}
	for i := 1; i <= na; i++ {
		for j := 1; j <= nb; j++ {
			if crossing(pa[i-1], pa[i], pb[j-1], pb[j]) {
				return touch{}
			}
		}
	}
	best := touch{length: math.Inf(1)}
	try := func(d, i, j float64) {
		if d < best.length {
			best = touch{d, ra * i / float64(na), rb * j / float64(nb)}
		}
	}
	for i := 0; i <= na; i++ {
		for j := 0; j <= nb; j++ {
			x, y := float64(i), float64(j)
			try(length(sub(pa[i], pb[j])), x, y)
			if i > 0 {
				d, u := toSegment(pb[j], pa[i-1], pa[i])
				try(d, x-1+u, y)
			}
			if j > 0 {
				d, u := toSegment(pa[i], pb[j-1], pb[j])
				try(d, x, y-1+u)
			}
		}
	}
	d := sub(b.centre, a.centre)
	if l := length(d); l > a.r+b.r && l > 0 {
		e := Point2{d.S / l, d.H / l}
		ua, okA := a.holds(e, t)
		ub, okB := b.holds(Point2{-e.S, -e.H}, back)
		if okA && okB {
			return touch{l - a.r - b.r, ua, ub}
		}
	}
	return best
}

// holds returns the place at which an edge looks along e, and whether it belongs to it.
func (o *outline) holds(e, t Point2) (u float64, ok bool) {
	if o.kind == Chamfer {
		return 0, false
	}
	if o.kind == Sharp || o.r == 0 {
		return 0, true
	}
	u = math.Atan2(dot(e, o.tangent), dot(e, o.normal))
	return u, u >= 0 && u <= o.reach(t)
}

// toSegment returns the distance of p from ab and the share of ab at which it is reached.
func toSegment(p, a, b Point2) (d, u float64) {
	v := sub(b, a)
	l := dot(v, v)
	if l == 0 {
		return length(sub(p, a)), 0
	}
	u = min(max(dot(sub(p, a), v)/l, 0), 1)
	return length(sub(p, along(a, u, v))), u
}

func crossing(a, b, c, d Point2) bool {
	side := func(p, q, r Point2) float64 {
		u, v := sub(q, p), sub(r, p)
		return float64(u.S*v.H) - float64(u.H*v.S)
	}
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// cause is one independent source of error: how far it moves a side's h0, m, c, s, r at one standard uncertainty.
type cause struct {
	name string
	side Side
	d    [5]float64
}

var sideName = [2]string{"A", "B"}

func causes(s *[2]sideState) []cause {
	var out []cause
	for k := A; k <= B; k++ {
		f, e := &s[k].face, &s[k].edge
		add := func(name string, d [5]float64) { out = append(out, cause{name + sideName[k], k, d}) }
		follow := func(h0, m, c float64) [5]float64 {
			d := [5]float64{h0, m, c}
			for i := range 2 {
				d[3+i] = float64(e.toFace[i][0]*h0) + float64(e.toFace[i][1]*m) + float64(e.toFace[i][2]*c)
			}
			return d
		}
		l00 := math.Sqrt(max(f.cov[0][0], 0))
		l10 := 0.0
		if l00 > 0 {
			l10 = f.cov[0][1] / l00
		}
		add("height of face ", follow(l00, l10, 0))
		add("direction of face ", follow(0, math.Sqrt(max(f.cov[1][1]-l10*l10, 0)), 0))
		add("curvature of face ", follow(f.dh0*s[k].uc, f.dm*s[k].uc, s[k].uc))
		if s[k].off > 0 {
			add("face carried on to shoulder ", follow(s[k].off, 0, 0))
		}
		if !e.found {
			add("end of face ", [5]float64{3: e.u})
			continue
		}
		e00 := math.Sqrt(max(e.data[0][0], 0))
		e10 := 0.0
		if e00 > 0 {
			e10 = e.data[0][1] / e00
		}
		add("scatter of edge ", [5]float64{3: e00, 4: e10})
		add("scatter of edge ", [5]float64{4: math.Sqrt(max(e.data[1][1]-e10*e10, 0))})
		add("radius of edge ", [5]float64{3: e.prior[0], 4: e.prior[1]})
	}
	return out
}

// budget computes a figure's expanded uncertainty from the causes and the further lines given.
func budget(s *[2]sideState, master Side, pick func(*figures) float64, more []BudgetLine) ([]BudgetLine, float64) {
	var lines []BudgetLine
	sum := 0.0
	put := func(name string, u float64) {
		sum += float64(u * u)
		for i := range lines {
			if lines[i].Source == name {
				lines[i].U = math.Sqrt(float64(lines[i].U*lines[i].U) + float64(u*u))
				return
			}
		}
		lines = append(lines, BudgetLine{name, u})
	}
	for _, c := range causes(s) {
		var up, down [2][5]float64
		for i, v := range c.d {
			up[c.side][i], down[c.side][i] = v, -v
		}
		p, q := evaluate(s, &up, master), evaluate(s, &down, master)
		put(c.name, math.Abs(pick(&p)-pick(&q))/2)
	}
	for _, l := range more {
		put(l.Source, l.U)
	}
	return lines, 2 * math.Sqrt(sum)
}

func value(v, u float64) verdict.Value { return verdict.Value{V: v, U: u, OK: true} }

// carryCheck compares the face, carried on from its zone, with the points it
// was carried over. Where they lie off by more than chance allows (2.5 standard
// deviations of their mean), half of that counts as uncertainty at the shoulder.
func (s *sideState) carryCheck(pts []zonePoint, shoulder float64) {
	const from = 0.2 // mm behind the shoulder
	s.off = 0
	for _, to := range [...]float64{0.8, 1.25, 2.5} {
		var e []float64
		for _, p := range pts {
			if d := shoulder - p.y; d >= from && d <= to && p.nh > facing {
				e = append(e, p.h-s.face.at(p.x, p.y))
			}
		}
		if len(e) < 6 {
			continue
		}
		n := float64(len(e))
		m := median(e)
		// 1.57 is the variance of a median over that of a mean.
		if se := math.Sqrt(1.57*s.face.sigma*s.face.sigma/n + s.face.cov[0][0]); math.Abs(m) > 2.5*se {
			s.off = max(s.off, math.Abs(m)/2)
		}
	}
}
