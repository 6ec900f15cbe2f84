package gapflush

import "math"

// wideBend is how a face bends over its zone and the stretch behind it: the uncertainty of a
// curvature falls with the length of what it is taken from to the power of 2.5, so that a seam's
// common curvature is known some four times better than by the zones alone.
type wideBend struct {
	c, u          float64 // curvature, 1/mm, of the face, and its standard uncertainty
	change, moreU float64 // of the curvature, 1/mm², toward the gap
	arm           float64 // mm from the stretch's middle to where the curvature is needed
	ok            bool
}

const (
	wideBehind  = 0.75 // of the zone's length, how far behind it the stretch goes
	wideSteps   = 6    // in that; a panel that ends there, or bends away, ends the stretch
	wideLeast   = 2    // of the steps; a stretch hardly longer than the zone says hardly more
	wideOff     = 0.15 // mm, and four times the noise, off the zone's own parabola carried on
	wideDensity = 0.5  // of the points the zone has to a length, at least
	wideRounds  = 3
)

// stepsBehind counts the steps of so many mm behind a zone, one after the other, on which points lie about as densely as in the zone.
func stepsBehind(pts []zonePoint, lo, hi, step float64, on func(*zonePoint) (float64, bool)) (steps int) {
	var behind [wideSteps]int
	inside := 0
	for i := range pts {
		p := &pts[i]
		if p.y > hi || p.y < lo-float64(step*wideSteps) {
			continue
		}
		if _, ok := on(p); !ok {
			continue
		}
		if p.y >= lo {
			inside++
		} else {
			behind[min(int((lo-p.y)/step), wideSteps-1)]++
		}
	}
	for steps < wideSteps && float64(behind[steps]) >= wideDensity*float64(inside)*step/(hi-lo) {
		steps++
	}
	return steps
}

// widen fits the stretch with what the zone, from lo to hi, says of it taken out; f.bent stands.
// The noise, mm, is at most that of the scan: what the points scatter by themselves counts.
func (f *face) widen(pts []zonePoint, lo, hi, shoulder, noise float64) (w wideBend) {
	step := wideBehind * (hi - lo) / wideSteps
	off := wideOff + float64(4*max(f.bent.sigma, noise))
	on := func(p *zonePoint) (e float64, ok bool) {
		e = p.h - f.bent.at(p.x, p.y)
		return e, p.nh >= facing && math.Abs(e) <= off
	}
	steps := stepsBehind(pts, lo, hi, step, on)
	if steps < wideLeast {
		return w
	}
	from := lo - float64(step*float64(steps))
	middle := float64((from + hi) / 2)
	var beta row
	for round := range wideRounds {
		q := normalEq{n: 4}
		n := 0
		for i := range pts {
			p := &pts[i]
			if p.y < from || p.y > hi {
				continue
			}
			e, ok := on(p)
			if !ok {
				continue
			}
			d := (p.y - middle) / acrossScale
			r := row{1, d, d * d, d * d * d}
			weight := 1.0
			if round > 0 {
				left := e
				for k := range q.n {
					left -= float64(beta[k] * r[k])
				}
				weight = tukey(left, f.bent.sigma)
			}
			if weight > 0 {
				q.add(&r, e, weight)
				n++
			}
		}
		cubic, ok := q.inverse()
		if !ok || n < 2*minOnFace {
			return w
		}
		beta = q.apply(&cubic)
		parabola := q
		parabola.n = 3
		inv, _ := parabola.inverse()
		const s2 = acrossScale * acrossScale
		c := f.bent.c - float64(6*f.bent.bow*(middle-f.y0)) - float64(2*parabola.apply(&inv)[2]/s2)
		// Of the face and not of its height over y: a leaning circle's height has a third
		// derivative, too.
		m := f.bent.slope(middle)
		lean := 1 + float64(m*m)
		third := float64(6*f.bent.bow) + float64(6*beta[3]/(s2*acrossScale)) - float64(3*m*c*c/lean)
		w = wideBend{
			c: c / (lean * math.Sqrt(lean)), u: 2 * f.bent.sigma * math.Sqrt(inv[2][2]) / s2 / (lean * math.Sqrt(lean)),
			change: -third / (lean * lean), moreU: 6 * f.bent.sigma * math.Sqrt(cubic[3][3]) / (s2 * acrossScale) / (lean * lean),
			arm: float64((f.y0+shoulder)/2) - middle, ok: true,
		}
	}
	return w
}
