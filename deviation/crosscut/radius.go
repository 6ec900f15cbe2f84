package crosscut

import (
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

const (
	// middle is how much of an arc must show its radius as well.
	middle = 0.65
	// hiddenShape is the share of the variance of the middle's radius that counts in U: noise hides shapes that differ from an arc
	// by so much. With none of it smoothed noise and two radii lie outside U twice as often, on drawn scans; with all, U of true arcs doubles.
	hiddenShape = 0.2
	// narrower is how much smaller the next stretch is where what lies on one is no arc.
	narrower = 0.7
	// waves is up to how many half waves along a stretch what is left of a fit is looked at.
	waves = 7
	// mostWave is how many times more of what is left may lie in long waves than in short ones, beside what neighbouring
	// places share. On drawn scans of true arcs hardly any exceed 3.5 of it; noise that was smoothed lacks short waves and has up to twice as much.
	mostWave = 6
	// leastScatter, in mm, is how far places on an exact surface lie apart by rounding, single precision included.
	leastScatter = 1e-4
	// finestShape is the share of a stretch's length by which it may be another shape than was fitted, whatever the noise: a
	// reference has none, and differs from each arc and straight by some microns.
	finestShape = 1e-4
	// chord is the share of a step between places, squared, over the radius, by which the flat faces of a mesh may lie within the
	// arc: faces are about two steps wide, so that their middles lie within by half a step squared over the radius, and places on
	// their sides by two thirds of it on average.
	chord = 1.0 / 3
	// mostPlaces of a stretch are fitted; of more, neighbours are averaged.
	mostPlaces = 400
)

// radius reads the radius of the bend about a place of a scan's curves.
func radius(curves []Curve, at Point2, within float64, least int) (value verdict.Value, centre Point2, why string) {
	q := query{curves: curves, at: at, within: within, least: least}
	return q.radius()
}

// radius reads the radius of the bend about a place: of the widest stretch, of those that are narrower and narrower, that
// is an arc with or without a straight at either end. Where a wider one was neither, a narrower must be an arc from end to end.
//
// The value is that of the whole stretch as an arc, where straights explain no more of what is left than chance does, else
// of the arc and straights that fit best. U reaches to the smallest and the largest radius of all arcs, their ends
// anywhere, that fit as well as chance lets them: where an arc ends is not known better than that. In it are besides what is left
// in long waves, by how much the middle of the arc reads otherwise and part of what it may read otherwise unseen, and how far
// flat faces lie within the arc. Where long waves exceed noise by more than chance explains, or the middle reads another
// radius, it is no arc and has no value.
func (q *query) radius() (value verdict.Value, centre Point2, why string) {
	first := lookedAt{}
	for wide := q.within; ; wide *= narrower {
		l := q.look(wide, q.within)
		if l.lack == none {
			return l.value, l.centre, ""
		}
		if first.lack == none {
			first = l
		}
		if l.lack != uneven {
			return verdict.Value{}, q.at, q.why(first)
		}
	}
}

// look reads the stretch so wide about the place, where one within was asked for.
func (q *query) look(wide, within float64) lookedAt {
	run, _, where := stretch(q.curves, q.at, wide)
	l := lookedAt{wide: wide, places: len(run), where: where, lack: few}
	if len(run) < q.least {
		return l
	}
	b := bow{run: thinned(run), at: q.at, wide: wide, within: within, least: q.least}
	l.run = b.run
	b.radius(&l)
	return l
}

// thinned averages neighbours until there are no more than mostPlaces.
func thinned(run []Point2) []Point2 {
	of := (len(run) + mostPlaces - 1) / mostPlaces
	if of < 2 {
		return run
	}
	var list []Point2
	for k := 0; k+of <= len(run); k += of {
		var m Point2
		for _, p := range run[k : k+of] {
			m.H += p.H / float64(of)
			m.V += p.V / float64(of)
		}
		list = append(list, m)
	}
	return list
}

// bow is a stretch of which a radius is to be read.
type bow struct {
	run          []Point2
	at           Point2
	wide, within float64 // mm about the place: this stretch, the one asked for
	least        int     // places
}

// radius reads the stretch as an arc, alone or between straights.
func (b *bow) radius(l *lookedAt) {
	way := newTrail(b.run)
	all, best := rolls(way)
	if len(all) == 0 {
		l.lack = straightOn
		return
	}
	n := len(b.run)
	const numbers = 5 // centre, radius and where the arc ends
	rest := best.rest(way)
	allowed := allowed(best.left, n, numbers, rest.low, rest.of)
	v, whole := &best, best.from == 0 && best.to == float64(n-1)
	own := math.Sqrt(float64(allowed * rest.unit))
	lo, hi := best.r-own, best.r+own
	for i := range all {
		f := &all[i]
		spare := allowed - (f.left - best.left)
		if spare < 0 {
			continue
		}
		if f.from == 0 && f.to == float64(n-1) {
			v, whole = f, true
		}
		d := math.Sqrt(float64(spare * f.unit))
		lo, hi = min(lo, f.r-d), max(hi, f.r+d)
	}
	u := max(hi-v.r, v.r-lo)
	bent := inWaves(rest.low, rest.high, b.run) || b.wide < b.within && !whole
	if m := b.middleOf(&best); m.ok {
		d := m.r - v.r
		bent = bent || float64(d*d) > float64(u*u)+float64(allowed*m.unit)
		u = math.Sqrt(float64(u*u) + float64(d*d) + float64(hiddenShape*float64(allowed*m.unit)))
	}
	step := 0.0
	for k := 1; k < n; k++ {
		step += far(b.run[k-1], b.run[k]) / float64(n-1)
	}
	u += float64(chord*math.Abs(rest.lean)*float64(step*step)) / best.r
	l.value, l.centre, l.from, l.to, l.turned = verdict.Value{V: v.r, U: u}, v.centre, v.from, v.to, v.arc
	l.needed = leastArc
	if n >= 3*b.least {
		l.needed = leastArc / 2
	}
	switch {
	case bent:
		l.lack = uneven
	case v.r > 100*b.within:
		l.lack = straightOn
	case v.arc < l.needed:
		l.lack = shallow
	case v.to-v.from+1 < float64(3*b.least)/4:
		l.lack = sparse
	case u > float64(mostDoubt*v.r):
		l.lack = unsure
	default:
		l.lack, l.value.OK = none, true
	}
}

// inWaves reports whether more of what is left of a run lies in long waves than noise and the finest shape explain.
func inWaves(low, high float64, run []Point2) bool {
	long := 0.0
	for k := 1; k < len(run); k++ {
		long += far(run[k-1], run[k])
	}
	least := finestShape * long
	return low > float64(mostWave*shared*shared*max(high, least*least, leastScatter*leastScatter))
}

// middleOf is the middle part of the arc about a place, as an arc of its own.
func (b *bow) middleOf(f *roll) roll {
	lo, hi := int(math.Ceil(f.from)), int(f.to)
	reach := 0.0
	for k := lo; k <= hi; k++ {
		reach = max(reach, float64(middle*far(b.run[k], b.at)))
	}
	for lo < hi && far(b.run[lo], b.at) > reach {
		lo++
	}
	for lo < hi && far(b.run[hi], b.at) > reach {
		hi--
	}
	g := roll{to: float64(hi - lo)}
	if hi-lo+1 < leastPlaces {
		return g
	}
	t, ok := newTrail(b.run[lo:hi+1]), false
	if g.centre, g.r, ok = circleThrough(t.at); ok {
		g.fit(t)
	}
	return g
}

// students are Student's t for 95.45 % by degrees of freedom (GUM, table G.2).
var students = [...]float64{13.97, 4.53, 3.31, 2.87, 2.65, 2.52, 2.43, 2.37, 2.32, 2.28}

func student(freedom float64) float64 {
	if k := int(freedom + 0.5); k <= len(students) {
		return students[max(1, k)-1]
	}
	return 2 + 2.8/freedom // within 0.01 of the table's further rows
}

// remainder is what is left of a fit and what it tells of the radius.
type remainder struct {
	low, high float64 // mm², of a place: what is left in long waves along the run that the fit cannot take up, and the rest
	unit      float64 // the variance of the radius when that of a place is 1, the ends of the arc fitted too
	of        int     // numbers that low is the mean of
	lean      float64 // by how much the radius changes when the places of the arc alone move outward by 1
}

// rest looks at what is left of a fit.
func (f *roll) rest(run trail) (left remainder) {
	n := len(run.at)
	var b basis
	var slopes []geom.Vec
	off := make([]float64, n)
	for k := range n {
		e, j := f.distance(run, k)
		off[k], slopes = e, append(slopes, j)
	}
	for _, end := range []func(g *roll, by float64){func(g *roll, by float64) { g.from += by }, func(g *roll, by float64) { g.to += by }} {
		before, after := *f, *f
		end(&before, -0.5)
		end(&after, 0.5)
		if before.from < 0 || after.to > float64(n-1) {
			continue
		}
		b.add(n, func(k int) float64 {
			ea, _ := before.distance(run, k)
			eb, _ := after.distance(run, k)
			return eb - ea
		})
	}
	for axis := range 3 {
		size := b.add(n, func(k int) float64 { return slopes[k].At(axis) })
		if axis == 2 {
			size = max(size, 1e-6)
			left.unit = 1 / float64(size*size)
			for k, x := range b[len(b)-1] {
				if float64(k) >= f.from && float64(k) <= f.to {
					left.lean += x / size
				}
			}
		}
	}
	left.low, left.high, left.of = b.longWaves(off, f.left)
	return left
}
