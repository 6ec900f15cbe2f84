package crosscut

import (
	"fmt"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

const (
	// straightTo is how far a stretch may bend off its line, beside its scatter, and be
	// straight: a sagitta of so much of its length.
	straightTo = 0.02
	// bentEnds is how much of a stretch may bend off at either end, and in how many steps where that begins is tried.
	bentEnds, bentSteps = 0.2, 6
	// leastBent is how many places a stretch must hold for its ends to be fitted, half of it for its crown: twice the numbers that they are.
	leastBent = 12
	// mostTurn is how large, radians, U of an angle may be: more tells no fold from another.
	mostTurn = 10 * math.Pi / 180
)

// straight is a stretch read as a straight that may bend off at either end.
type straight struct {
	along Point2  // unit
	u     float64 // radians, k = 2
}

// straightOf reads a stretch, whose direction is about along.
//
// The direction is that of the line through all places, slightly and evenly crowned, at the place it was asked for at, where ends that
// bend off explain no more of what is left than chance does, else of the line and ends that fit best. U reaches to the
// directions of all lines with ends that bend off anywhere and fit as well as chance lets them. ok is false where more is left
// in long waves than noise explains, which few places cannot tell: there it only makes U larger; bow is the sagitta of the whole stretch over within, mm.
func straightOf(run []Point2, place, along Point2, within float64) (s straight, bow float64, ok bool) {
	n := float64(len(run))
	var mh, mv, hh, hv, vv float64
	for _, p := range run {
		mh += p.H
		mv += p.V
	}
	mh, mv = mh/n, mv/n
	for _, p := range run {
		h, v := p.H-mh, p.V-mv
		hh += float64(h * h)
		hv += float64(h * v)
		vv += float64(v * v)
	}
	// Total least squares: the direction of the largest spread (Pearson 1901).
	half := geom.Atan2(2*hv, hh-vv) / 2
	sin, cos := geom.Sincos(half)
	d := Point2{cos, sin}
	if float64(d.H*along.H)+float64(d.V*along.V) < 0 {
		d = Point2{-cos, -sin}
	}
	at, off := make([]float64, len(run)), make([]float64, len(run))
	long := 0.0
	for k, p := range run {
		at[k] = float64((p.H-mh)*d.H) + float64((p.V-mv)*d.V)
		off[k] = float64((p.V-mv)*d.H) - float64((p.H-mh)*d.V)
		long += float64(at[k] * at[k])
	}
	// The parabola's part of what is left: a bow.
	var lift, quad float64
	for k := range at {
		q := float64(at[k]*at[k]) - long/n
		lift += float64(off[k] * q)
		quad += float64(q * q)
	}
	bow = math.Abs(lift/max(quad, 1e-300)) * float64(within*within)

	type line struct{ slope, unit, left float64 }
	var all []line
	var best line
	var columns basis
	first, last := at[0], at[len(at)-1]
	middle := float64((place.H-mh)*d.H) + float64((place.V-mv)*d.V)
	beyond := func(x float64) float64 { x = max(0, x); return x * x }
	// Few places tell no more than a line.
	numbers, steps := 2, 0
	crowned := n >= leastBent/2
	switch {
	case n >= leastBent:
		numbers, steps = 6, bentSteps // where and which way it runs, its crown, how each end bends off, and where, as good as one
	case crowned:
		numbers = 3
	}
	for i := range steps + 1 {
		for j := range steps + 1 {
			from, to := first+float64(float64(i)*bentEnds*(last-first))/bentSteps, last-float64(float64(j)*bentEnds*(last-first))/bentSteps
			var b basis
			b.add(len(at), func(int) float64 { return 1 })
			if crowned {
				b.add(len(at), func(k int) float64 { return float64((at[k] - middle) * (at[k] - middle)) })
			}
			if i > 0 {
				b.add(len(at), func(k int) float64 { return beyond(from - at[k]) })
			}
			if j > 0 {
				b.add(len(at), func(k int) float64 { return beyond(at[k] - to) })
			}
			size := b.add(len(at), func(k int) float64 { return at[k] })
			if size == 0 {
				continue
			}
			l := line{slope: dot(b[len(b)-1], off) / size, unit: 1 / float64(size*size), left: dot(off, off)}
			for _, c := range b {
				d := dot(c, off)
				l.left = max(0, l.left-float64(d*d))
			}
			all = append(all, l)
			if len(all) == 1 || l.left < best.left {
				best, columns = l, b
			}
		}
	}
	if len(all) == 0 {
		return s, bow, false
	}
	rest := make([]float64, len(off))
	copy(rest, off)
	for _, c := range columns {
		d := dot(c, off)
		for k := range rest {
			rest[k] -= float64(d * c[k])
		}
	}
	low, high, of := columns.longWaves(rest, best.left)
	allowed := allowed(best.left, len(run), numbers, low, of)
	v := best
	if all[0].left-best.left <= allowed {
		v = all[0] // without ends that bend off
	}
	lo, hi := v.slope, v.slope
	for _, l := range all {
		if spare := allowed - (l.left - best.left); spare >= 0 {
			by := math.Sqrt(float64(spare * l.unit))
			lo, hi = min(lo, l.slope-by), max(hi, l.slope+by)
		}
	}
	// The slope turns the direction; both are small.
	size := math.Sqrt(1 + float64(v.slope*v.slope))
	s.along = Point2{(d.H - float64(v.slope*d.V)) / size, (d.V + float64(v.slope*d.H)) / size}
	s.u = max(hi-v.slope, v.slope-lo)
	return s, bow, n < leastBent || !inWaves(low, high, run)
}

// angle returns the angle between two stretches of a curve: pi where one carries on
// the other, less where the curve bends, whichever way.
func angle(curves []Curve, at [2]Point2, within float64, least int) (value verdict.Value, why string) {
	var dir [2]Point2
	var spans [2]span
	squares := 0.0
	for k := range at {
		run, along, where := stretch(curves, at[k], within)
		if len(run) < least {
			return value, fewPlaces(curves, at[k], len(run), within, fmt.Sprintf("place %d", k+1), least)
		}
		spans[k] = where
		s, bow, ok := straightOf(thinned(run), at[k], along, within)
		if bow > float64(2*straightTo*within) {
			return value, fmt.Sprintf("the curve is not straight within %g mm of place %d: it bows by %.2g mm; take a shorter stretch", within, k+1, bow)
		}
		if !ok {
			return value, fmt.Sprintf("the curve within %g mm of place %d is no straight, also where its ends may bend off; take a shorter stretch", within, k+1)
		}
		dir[k] = s.along
		squares += float64(s.u * s.u)
	}
	if n := spans[0].shares(spans[1]); n > 0 {
		return value, fmt.Sprintf("its two stretches share %d places of the curve; take a within under %.2g mm, or places farther apart", n, far(at[0], at[1])/2)
	}
	a, u := math.Pi-math.Abs(turn(dir[0], dir[1])), math.Sqrt(squares)
	if u > mostTurn {
		return value, fmt.Sprintf("the angle is too unsure (%.0f ± %.0f°); take longer stretches", a*180/math.Pi, u*180/math.Pi)
	}
	return verdict.Value{V: a, U: u, OK: true}, ""
}
