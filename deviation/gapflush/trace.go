package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// curve is an edge along the seam in a station's frame: y = s0 + s1 x + s2 x²,
// and its height h = h0 + h1 x + h2 x².
type curve struct {
	s0, s1, s2, h0, h1, h2 float64
	slabs                  int
}

func (c *curve) y(x float64) float64 { return c.s0 + float64(x*(c.s1+float64(c.s2*x))) }
func (c *curve) h(x float64) float64 { return c.h0 + float64(x*(c.h1+float64(c.h2*x))) }

// knot is an edge found in one slab.
type knot struct{ x, y, h float64 }

const (
	slabHalf = 2.5 // mm
	slabStep = 4.0 // mm
)

// leansBack is the sine, 17°, by which a normal may lean away from the gap and be that of a point of
// the skin or its roll: three times what noise of 0.05 mm makes of it at points 0.8 mm apart. More do
// those of the other panel's edge, which across a narrow gap lies where a roll would, a little farther on.
const leansBack = 0.3

// vw is a point in the axes of a skin: v mm along it, w mm up from it.
type vw struct{ v, w float64 }

// agree says how well points lie, within reach, on a skin that a roll of radius r leaves at c, and how many on the roll.
func agree(pts []vw, c, r, reach float64) (sum float64, onRoll int) {
	near, far := max(r-reach, 0), r+reach
	near, far = near*near, far*far
	for i := range pts {
		d, e := pts[i].v-c, pts[i].w
		if d > 0 {
			e += r
			d2 := float64(d*d) + float64(e*e)
			if d2 < near || d2 > far {
				continue // most points
			}
			e = math.Sqrt(d2) - r
		}
		if k := e / reach; k < 1 && k > -1 {
			sum += 1 - float64(k*k)
			if d > 0.25*r && math.Abs(e) < reach/2 {
				onRoll++
			}
		}
	}
	return sum, onRoll
}

// edgeIn returns where, in a slab about x, a roll of radius r leaves the skin l:
// the place on which the most points agree, and how many points lie on the roll.
func (t *tracing) edgeIn(pts []pt, l line, x, end, r float64) (s float64, onRoll int) {
	const reach = 0.35 // mm from the roll
	q := math.Sqrt(1 + float64(l.m*l.m))
	vs, ws := t.vs[:0], t.ws[:0]
	for i := range pts {
		p := &pts[i]
		if math.Abs(p.x-x) > slabHalf {
			continue
		}
		w := (p.h - l.at(p.x, p.y)) / q
		if p.y < end-float64(2*r)-2 || p.y > end+r+3 || w > reach || w < -float64(1.3*r)-0.5 || (p.nh-float64(l.m*p.ny))/q < -0.5 ||
			(p.ny+float64(l.m*p.nh))/q < -leansBack {
			continue
		}
		vs, ws = append(vs, float64(p.y*q)+float64(l.m*w)), append(ws, w)
	}
	t.vs, t.ws = vs, ws
	best := -1.0
	for step, lo, hi := 0.25, (end-2*r)*q, (end+1)*q; step > 0.02; step /= 5 {
		// Behind all shoulders to be tried a point counts alike, beyond the roll of the last not at all.
		behind, some := 0.0, t.some[:0]
		for i, v := range vs {
			switch w := ws[i]; {
			case v > hi+r+reach:
			case v > lo:
				some = append(some, vw{v, w})
			default:
				if k := w / reach; k < 1 && k > -1 {
					behind += 1 - float64(k*k)
				}
			}
		}
		t.some = some
		at := lo
		for c := lo; c <= hi; c += step {
			if sum, n := agree(some, c, r, reach); behind+sum > best+1e-12 {
				best, at, s, onRoll = behind+sum, c, c/q, n
			}
		}
		if s != 0 {
			at = s * q
		}
		lo, hi = at-step, at+step
	}
	return s, onRoll
}

const wallAside = 5.0 // mm from the guess, where a wall's points may lie

// wallIn returns where, in a slab about x, the wall below a corner lies near guess: the middle
// of its points, and how many they are. All slabs of an edge see as much of its wall.
func (t *tracing) wallIn(pts []pt, l line, x, guess float64) (v float64, n int) {
	const (
		lean  = 50 * math.Pi / 180 // a facet's points lean less, most of them
		aside = wallAside
	)
	q := math.Sqrt(1 + float64(l.m*l.m))
	vs := t.vs[:0]
	for i := range pts {
		p := &pts[i]
		if math.Abs(p.x-x) > slabHalf || math.Abs(p.y-guess) > aside {
			continue
		}
		w := (p.h - l.at(p.x, p.y)) / q
		if w > -corners || w < -flankDeep-1 {
			continue
		}
		if tilt := geom.Atan2(p.ny+float64(l.m*p.nh), p.nh-float64(l.m*p.ny)); tilt > lean && tilt < wallOver {
			vs = append(vs, p.y+float64(l.m*w/q))
		}
	}
	t.vs = vs
	return median(vs), len(vs)
}

// tracing follows the edges of one station along the seam. Its memory is used again.
type tracing struct {
	slabs [2 * slabsBeside][]pt // the points of the slabs followed, nearest first, before and after the station
	near  []pt
	vs    []float64
	ws    []float64
	some  []vw
	laid  bool // points were laid on what is flat, so that elsewhere there are fewer
}

const slabsBeside = 3 // on either side of the middle one: out to ±15 mm, with half of the last

// straight follows the wall below a corner or a chamfer from slab to slab; the
// knots lie where the skin ends, as far aside as the wall is.
func (t *tracing) straight(pts []pt, l line, end float64) []knot {
	at, n := t.wallIn(pts, l, 0, end)
	if n < 3 {
		return nil
	}
	far := wallAside + math.Abs(at-end)
	return t.follow(pts, l, knot{0, end, l.at(0, end)}, far, far, func(near []pt, l line, x, guess float64) (float64, int) {
		v, n := t.wallIn(near, l, x, guess+(at-end))
		return v - (at - end), n
	})
}

// roll follows a roll from slab to slab out to ±15 mm.
func (t *tracing) roll(pts []pt, l line, end, r float64) []knot {
	s, n := t.edgeIn(pts, l, 0, end, r)
	if n < 3 {
		return nil
	}
	return t.follow(pts, l, knot{0, s, l.at(0, s)}, float64(1.5*r)+2, float64(1.5*r)+3, func(near []pt, l line, x, guess float64) (float64, int) {
		return t.edgeIn(near, l, x, guess+float64(r/2), r)
	})
}

const (
	offGuess = 2.2 // mm, an edge farther from where the slabs before have it is not believed
	// drift is how far the guess may then lie from the middle knot: the edge may have moved by
	// once and three times as much in the first two slabs, and goes on by two.
	drift      = 5 * offGuess
	rounding   = 0.1 // mm
	skinBehind = 12.5
	skinBefore = 2.0 // mm from the guess, between which a slab's skin is fitted
)

// sort deals the points from lo to hi out to the slabs beside the middle one, in their order.
func (t *tracing) sort(pts []pt, lo, hi float64) {
	for i := range t.slabs {
		t.slabs[i] = t.slabs[i][:0]
	}
	for i := range pts {
		p := &pts[i]
		if p.y < lo || p.y > hi {
			continue
		}
		first := 0
		x := -p.x
		if p.x > 0 {
			first, x = slabsBeside, p.x
		}
		for k := range slabsBeside {
			if math.Abs(x-float64(slabStep*float64(k+1))) <= slabHalf {
				t.slabs[first+k] = append(t.slabs[first+k], *p)
			}
		}
	}
}

// follow goes from a knot in the middle to both sides, in says where a slab has the edge by
// the points from behind to before the guess, mm.
func (t *tracing) follow(pts []pt, l line, middle knot, behind, before float64, in func(near []pt, l line, x, guess float64) (float64, int)) []knot {
	behind, before = max(behind, skinBehind)+rounding, before+rounding
	t.sort(pts, middle.y-drift-behind, middle.y+drift+before)
	knots, s := append(make([]knot, 0, 1+len(t.slabs)), middle), middle.y
	for side, dir := range [2]float64{-1, 1} {
		at, prev, cur := s, s, l
		for k, slab := range t.slabs[side*slabsBeside:][:slabsBeside] {
			x := float64(dir * slabStep * float64(k+1))
			guess := at + (at - prev)
			near := t.near[:0]
			for i := range slab {
				// Neither the skin's fit nor the edge's looks farther.
				if p := &slab[i]; p.y > guess-behind && p.y < guess+before {
					near = append(near, *p)
				}
			}
			t.near = near
			next, ok := fitLine(near, cur, guess-skinBehind, guess-skinBefore, slabHalf)
			if !ok {
				break
			}
			y, n := in(near, next, x, guess)
			if n < 3 || math.Abs(y-guess) > offGuess {
				break
			}
			knots = append(knots, knot{x, y, next.at(x, y)})
			prev, at, cur = at, y, next
		}
	}
	return knots
}

// fitCurve lays a curve through the knots: quadratic over five, straight over three.
func fitCurve(k []knot) (c curve, ok bool) {
	n := 3
	if len(k) < 3 {
		return c, false
	}
	if len(k) < 5 {
		n = 2
	}
	for round := range 3 {
		qy, qh := normalEq{n: n}, normalEq{n: n}
		for _, p := range k {
			w := 1.0
			if round > 0 {
				w = tukey(p.y-c.y(p.x), 0.12)
			}
			r := row{1, p.x / 10, p.x * p.x / 100}
			qy.add(&r, p.y, w)
			qh.add(&r, p.h, w)
		}
		iy, ok1 := qy.inverse()
		ih, ok2 := qh.inverse()
		if !ok1 || !ok2 {
			return c, false
		}
		y, h := qy.apply(&iy), qh.apply(&ih)
		c = curve{y[0], y[1] / 10, y[2] / 100, h[0], h[1] / 10, h[2] / 100, len(k)}
	}
	return c, true
}
