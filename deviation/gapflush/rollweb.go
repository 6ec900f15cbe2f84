package gapflush

import (
	"math"
	"slices"
)

const (
	leavesBy  = 0.1                 // mm, a point off the roll by more than hems that are not quite round are
	leavesArc = 21 * math.Pi / 180  // a tangent is 0.1 mm off a roll of 1.5 mm that much farther on
	webFrom   = 2 * math.Pi / 180   // from the shoulder on
	webTo     = lastArc + leavesArc //
	webReach  = 3.0                 // mm off the roll
	cameBack  = 3                   // so many last points lie on or in the roll again where what is off it is no web
	aboveBy   = 1.0                 // mm, a web leaves a roll little by little: the first point off it that is farther off is none of it
	slabCount = 4                   // across the band, for what holds a part of it only
)

// start returns where to begin: at s, where the trace found the edge in the middle
// of the band, unless clearly more of the whole band's points lie on the face and
// the roll for a shoulder farther back, as when a web covers the middle.
func (g *rollFit) start(s float64) float64 {
	const (
		reach = 0.25 // mm off the outline
		step  = 0.4  // mm
		steps = 6
	)
	score := func(s float64) (sum float64) {
		o := rollAt(g.face, s, g.r0)
		for i := range g.pts {
			px, py := g.pts[i].y-o.c.S, g.pts[i].h-o.c.H
			var e float64
			if v := float64(px*o.t.S) + float64(py*o.t.H); v > 0 {
				e = math.Sqrt(float64(px*px) + float64(py*py))
			} else {
				e = float64(px*o.n.S) + float64(py*o.n.H)
			}
			if e = (e - g.r0) / reach; e > -1 && e < 1 {
				sum += 1 - float64(e*e)
			}
		}
		return sum
	}
	best, start := float64(score(s)*1.05)+2, s
	if best >= float64(len(g.pts)) {
		return s // no other place can hold so many
	}
	for i := 1; i <= steps; i++ {
		at := s - float64(step*float64(i))
		if v := score(at); v > best {
			best, start = v, at
		}
	}
	return start
}

// lopsided reports whether the points on the roll lie so much to one end of the
// band that its direction must come from them; it then lets it.
func (g *rollFit) lopsided(e *edge) bool {
	if g.turn == webbedTurn || math.Abs(e.middle) < g.band/4 {
		return false
	}
	g.turn = webbedTurn
	return true
}

// slab returns which part of the band x lies in.
func (g *rollFit) slab(x float64) int {
	return min(max(int((x+g.band)/(2*g.band)*slabCount), 0), slabCount-1)
}

// webPlace is where a point lies beside a roll: how far round it, radians, how far off, mm, and from how far off on it may be a web's.
type webPlace struct{ phi, res, cut float64 }

// onRollBefore reports whether the last points before a quarter turn, of some sorted by their angle, lie on a roll as closely as noise allows.
func onRollBefore(s []webPlace) bool {
	n := len(s)
	for n > 0 && s[n-1].phi > math.Pi/2 {
		n--
	}
	if n < cameBack {
		return false
	}
	for _, p := range s[n-cameBack : n] {
		if p.res > p.cut/2 {
			return false
		}
	}
	return true
}

// leaves marks the points beyond the place where a slab's points leave the roll
// outward, and reports whether there are any that counted so far.
func (g *rollFit) leaves(e *edge) bool {
	var slabs [slabCount][]webPlace
	o := rollAt(g.face, e.s, e.r)
	beside := func(p *rollPoint, least float64) (webPlace, bool) {
		if float64((p.y-o.c.S)*o.t.S)+float64((p.h-o.c.H)*o.t.H) < 0 {
			return webPlace{}, false // most points, which lie on the face
		}
		at := o.place(p.y, p.h)
		res := at.d + g.sunk - o.r
		if res < least || res > webReach || float64(p.ny*at.ux)+float64(p.nh*at.uy) <= 0 {
			return webPlace{}, false
		}
		phi := at.phi()
		return webPlace{phi, res, max(leavesBy, 3.5*g.noise*g.uneven.at(phi))}, phi > webFrom && phi < webTo
	}
	cut := max(leavesBy, 3.5*g.noise)
	none := true
	for i := range g.pts {
		if _, ok := beside(&g.pts[i], cut); ok {
			none = false
			break
		}
	}
	if none {
		return false
	}
	for i := range g.pts {
		if at, ok := beside(&g.pts[i], -onRoll); ok {
			k := g.slab(g.pts[i].x)
			slabs[k] = append(slabs[k], at)
		}
	}
	var from [slabCount]float64
	for k, s := range slabs {
		from[k] = math.Inf(1)
		slices.SortFunc(s, func(a, b webPlace) int {
			switch {
			case a.phi < b.phi:
				return -1
			case a.phi > b.phi:
				return 1
			}
			return 0
		})
		for i, p := range s {
			// One point alone may be a stray; the last one has none after it.
			if p.res > p.cut && (i+1 == len(s) || s[i+1].res > s[i+1].cut/2) {
				if came := s[max(i+1, len(s)-cameBack):]; len(came) == cameBack {
					if !slices.ContainsFunc(came, func(p webPlace) bool { return p.res >= p.cut/2 }) {
						break // a roll that is smaller than this one, or a crumb on it
					}
				}
				if p.res > aboveBy && onRollBefore(s[i+1:]) {
					continue // another panel stands above the roll, which runs on under it
				}
				from[k] = p.phi - leavesArc
				break
			}
		}
	}
	found := false
	for i := range g.pts {
		p := &g.pts[i]
		if p.off || math.IsInf(from[g.slab(p.x)], 1) {
			continue
		}
		if at, ok := beside(p, -onRoll); ok && at.phi >= from[g.slab(p.x)] {
			p.off, found, g.turn = true, true, webbedTurn
		}
	}
	return found
}

// pattern enlarges the scatter of s and r where the points' distances from the
// roll follow a pattern: the means of patches of it (a quarter of the band by a
// third of the arc) should scatter as the noise over the root of their points
// does. The factor is Birge's ratio (1932).
func (g *rollFit) pattern(e *edge) {
	const (
		thirds = 3
		chance = 2.0 // with nine degrees of freedom chance alone exceeds it once in thirty
	)
	var sum, n [slabCount][thirds]float64
	o := rollAt(g.face, e.s, e.r)
	end := slices.Max(e.phis) + 1e-9
	for _, i := range g.pick(&o) {
		p := &g.pts[i]
		at, ok := g.counts(&o, p)
		if !ok {
			continue
		}
		phi := at.phi()
		if phi > end {
			continue
		}
		k, l := g.slab(p.x), min(int((phi-firstArc)/(end-firstArc)*thirds), thirds-1)
		res := at.d - o.r
		if g.clear {
			res -= float64(at.ux * g.along.at(p.x))
		}
		sum[k][l] += res / g.uneven.at(phi)
		n[k][l]++
	}
	chi2, cells := 0.0, 0
	for k := range sum {
		for l := range sum[k] {
			if n[k][l] > 0 {
				chi2 += float64(sum[k][l] * sum[k][l] / n[k][l])
				cells++
			}
		}
	}
	if cells <= 3 {
		return
	}
	ratio2 := chi2 / float64(cells-3) / (e.sigma * e.sigma)
	if ratio2 < chance {
		return
	}
	for i := range e.data {
		for k := range e.data[i] {
			e.data[i][k] *= ratio2
		}
	}
}
