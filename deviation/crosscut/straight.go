package crosscut

import (
	"math"
	"slices"

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
	c := principalOf(run, place, along)
	bow = c.bow() * float64(within*within)
	lines, best, columns := c.lines()
	if len(lines) == 0 {
		return s, bow, false
	}
	rest := slices.Clone(c.off)
	for _, col := range columns {
		d := dot(col, c.off)
		for k := range rest {
			rest[k] -= float64(d * col[k])
		}
	}
	low, high, of := columns.longWaves(rest, best.left)
	numbers, _ := c.numbers()
	allowed := allowed(best.left, len(run), numbers, low, of)
	v := best
	if lines[0].left-best.left <= allowed {
		v = lines[0] // without ends that bend off
	}
	lo, hi := v.slope, v.slope
	for _, l := range lines {
		if spare := allowed - (l.left - best.left); spare >= 0 {
			by := math.Sqrt(float64(spare * l.unit))
			lo, hi = min(lo, l.slope-by), max(hi, l.slope+by)
		}
	}
	// The slope turns the direction; both are small.
	size := math.Sqrt(1 + float64(v.slope*v.slope))
	s.along = Point2{(c.d.H - float64(v.slope*c.d.V)) / size, (c.d.V + float64(v.slope*c.d.H)) / size}
	s.u = max(hi-v.slope, v.slope-lo)
	return s, bow, float64(len(run)) < leastBent || !inWaves(low, high, run)
}

// principal is the line of the largest spread of a stretch.
type principal struct {
	d       Point2    // its direction
	at, off []float64 // mm along and beside it, of each place
	middle  float64   // mm along it, of the place asked for
}

// principalOf is a stretch's by total least squares (Pearson 1901), running as along does.
func principalOf(run []Point2, place, along Point2) principal {
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
	sin, cos := geom.Sincos(geom.Atan2(2*hv, hh-vv) / 2)
	d := Point2{cos, sin}
	if float64(d.H*along.H)+float64(d.V*along.V) < 0 {
		d = Point2{-cos, -sin}
	}
	c := principal{d: d, at: make([]float64, len(run)), off: make([]float64, len(run))}
	for k, p := range run {
		c.at[k] = float64((p.H-mh)*d.H) + float64((p.V-mv)*d.V)
		c.off[k] = float64((p.V-mv)*d.H) - float64((p.H-mh)*d.V)
	}
	c.middle = float64((place.H-mh)*d.H) + float64((place.V-mv)*d.V)
	return c
}

// bow is the parabola's part, 1/mm, of what lies beside the line, whatever its sign.
func (c *principal) bow() float64 {
	n, long := float64(len(c.at)), 0.0
	for _, at := range c.at {
		long += float64(at * at)
	}
	var lift, quad float64
	for k, at := range c.at {
		q := float64(at*at) - long/n
		lift += float64(c.off[k] * q)
		quad += float64(q * q)
	}
	return math.Abs(lift / max(quad, 1e-300))
}

// numbers is how many a stretch is fitted with, and in how many steps its ends may bend off: few places tell no more than a line.
func (c *principal) numbers() (numbers, steps int) {
	switch n := len(c.at); {
	case n >= leastBent:
		return 6, bentSteps // where and which way it runs, its crown, how each end bends off, and where, as good as one
	case c.crowned():
		return 3, 0
	}
	return 2, 0
}

// crowned reports whether there are places enough to tell a crown.
func (c *principal) crowned() bool { return float64(len(c.at)) >= leastBent/2 }

// slanted is a line fitted to a stretch.
type slanted struct {
	slope float64 // against the principal line
	unit  float64 // the slope's variance when that of a place is 1
	left  float64 // mm², the sum of squares that is left
}

// lines are a stretch's for every place from which its ends may bend off, first the one without; best is the closest, with its columns.
func (c *principal) lines() (all []slanted, best slanted, columns basis) {
	_, steps := c.numbers()
	first, last := c.at[0], c.at[len(c.at)-1]
	beyond := func(x float64) float64 { x = max(0, x); return x * x }
	for i := range steps + 1 {
		for j := range steps + 1 {
			from, to := first+float64(float64(i)*bentEnds*(last-first))/bentSteps, last-float64(float64(j)*bentEnds*(last-first))/bentSteps
			var b basis
			b.add(len(c.at), func(int) float64 { return 1 })
			if c.crowned() {
				b.add(len(c.at), func(k int) float64 { return float64((c.at[k] - c.middle) * (c.at[k] - c.middle)) })
			}
			if i > 0 {
				b.add(len(c.at), func(k int) float64 { return beyond(from - c.at[k]) })
			}
			if j > 0 {
				b.add(len(c.at), func(k int) float64 { return beyond(c.at[k] - to) })
			}
			size := b.add(len(c.at), func(k int) float64 { return c.at[k] })
			if size == 0 {
				continue
			}
			l := slanted{slope: dot(b[len(b)-1], c.off) / size, unit: 1 / float64(size*size), left: dot(c.off, c.off)}
			for _, col := range b {
				d := dot(col, c.off)
				l.left = max(0, l.left-float64(d*d))
			}
			all = append(all, l)
			if len(all) == 1 || l.left < best.left {
				best, columns = l, b
			}
		}
	}
	return all, best, columns
}
