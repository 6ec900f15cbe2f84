package crosscut

import (
	"math"
	"slices"

	"shutline/deviation/verdict"
	"shutline/mesh/order"
)

const (
	// besides is how many stretches to either side of one, each half a stretch on, are looked at.
	besides = 24
	// leastBeside is how many second differences of directions tell a scatter.
	leastBeside = 3
	// manyBeside is how many of them tell it by their lower quarter.
	manyBeside = 16
	// bendsBeside is how much, radians, the curve may turn from one stretch to the next, half of one on, and be the same face.
	bendsBeside = 4 * math.Pi / 180
)

// angleOfScan is angle with a U that holds the noise which neighbouring places of a scan share over millimetres, as after smoothing: over
// one stretch it looks like a direction, and only stretches beside it tell how much of that there is.
func angleOfScan(curves []Curve, at [2]Point2, within float64) (value verdict.Value, why string) {
	if value, why = angle(curves, at, within, leastPlaces); !value.OK {
		return value, why
	}
	var all []float64
	for _, p := range at {
		for _, run := range directions(curves, p, within) {
			all = append(all, bendings(run)...)
		}
	}
	if len(all) < leastBeside {
		return value, why
	}
	for k := range all {
		all[k] = math.Abs(all[k])
	}
	// Of a - 2b + c the variance is six times that of a direction; 0.6745 is the median of a normal distribution's sizes, 0.3186 its
	// lower quarter, which bends and dents that lie beside leave alone.
	one := order.Median(all) / 0.6745
	if len(all) >= manyBeside {
		one = order.Nth(all, len(all)/4) / 0.3186
	}
	one /= math.Sqrt(6)
	value.U = max(value.U, math.Sqrt2*float64(student(float64(len(all)/2))*one)) // every other difference is of the same stretches
	return value, why
}

// direction is one of a stretch about a place.
type direction struct {
	at     float64 // mm along the curve
	turned float64 // radians
}

// directions are those of the stretches about a place and beside it along its curve, in order and half a stretch apart, radians from
// the curve's there, in a run for each face between bends; a stretch that holds too few places is passed over.
func directions(curves []Curve, at Point2, within float64) [][]direction {
	_, along, where := stretch(curves, at, within)
	if where.curve < 0 {
		return nil
	}
	points := curves[where.curve].Points
	nearest := 0
	for k, p := range points {
		if far(p, at) < far(points[nearest], at) {
			nearest = k
		}
	}
	curve := curves[where.curve : where.curve+1]
	of := func(p Point2) (turned float64, few, straight bool) {
		run, own, _ := stretch(curve, p, within)
		if len(run) < leastPlaces || far(run[0], run[len(run)-1]) < float64(1.6*within) {
			return 0, true, false
		}
		s, bow, ok := straightOf(thinned(run), p, own, within)
		return turn(along, s.along), false, ok && bow <= float64(2*straightTo*within)
	}
	here, _, straight := of(points[nearest])
	if !straight {
		return nil
	}
	toward := func(way int) (runs [][]direction) {
		run, last := []direction{}, here
		passed, next := 0.0, within
		for k, n := nearest+way, 0; k >= 0 && k < len(points) && n < besides; k += way {
			if passed += far(points[k], points[k-way]); passed < next {
				continue
			}
			n, next = n+1, next+within
			turned, few, straight := of(points[k])
			if few {
				continue
			}
			if !straight || math.Abs(turned-last) > bendsBeside {
				runs, run = append(runs, run), nil
			}
			if straight {
				run = append(run, direction{float64(way) * passed, turned})
			}
			last = turned
		}
		return append(runs, run)
	}
	before, after := toward(-1), toward(1)
	slices.Reverse(before[0])
	middle := append(append(before[0], direction{0, here}), after[0]...)
	return append(append([][]direction{middle}, before[1:]...), after[1:]...)
}

// bendings are by how much directions turn from the middle of two others whose stretches have no place in common with theirs, twice: an
// even crown leaves nothing.
func bendings(list []direction) (all []float64) {
	for k := 0; k+4 < len(list); k++ {
		a, b, c := list[k], list[k+2], list[k+4]
		part := (b.at - a.at) / (c.at - a.at)
		all = append(all, 2*(a.turned+float64(part*(c.turned-a.turned))-b.turned))
	}
	return all
}
