package crosscut

import (
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/order"
)

const (
	// besides is how many stretches to either side of one, each half a stretch on, are looked at.
	besides = 8
	// leastBeside is how many second differences of directions tell a scatter.
	leastBeside = 3
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
		all = append(all, bendings(directions(curves, p, within))...)
	}
	if len(all) < leastBeside {
		return value, why
	}
	for k := range all {
		all[k] = math.Abs(all[k])
	}
	// Of a - 2b + c the variance is six times that of a direction; 0.6745 is the median of a normal distribution's sizes.
	one := order.Median(all) / 0.6745 / math.Sqrt(6)
	value.U = max(value.U, math.Sqrt2*float64(student(float64(len(all)/2))*one)) // every other difference is of the same stretches
	return value, why
}

// direction is one of a stretch about a place.
type direction struct {
	at     float64 // mm along the curve
	turned float64 // radians
}

// directions are those of the stretches about a place and beside it along its curve, in order and half a stretch apart, radians from
// the curve's there; they end where the curve does, bends, or holds too few places.
func directions(curves []Curve, at Point2, within float64) []direction {
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
	of := func(p Point2, along Point2) (turned float64, ok bool) {
		run, own, _ := stretch(curve, p, within)
		if len(run) < leastPlaces || far(run[0], run[len(run)-1]) < float64(1.6*within) {
			return 0, false
		}
		s, bow, ok := straightOf(thinned(run), p, own, within)
		return turn(along, s.along), ok && bow <= float64(2*straightTo*within)
	}
	here, ok := of(points[nearest], along)
	if !ok {
		return nil
	}
	list := []direction{{0, here}}
	for _, way := range [2]int{-1, 1} {
		last, passed, next := here, 0.0, within
		for k, n := nearest+way, 0; k >= 0 && k < len(points) && n < besides; k += way {
			if passed += far(points[k], points[k-way]); passed < next {
				continue
			}
			turned, ok := of(points[k], along)
			if !ok || math.Abs(turned-last) > bendsBeside {
				break
			}
			last, next, n = turned, next+within, n+1
			if way < 0 {
				list = append([]direction{{-passed, turned}}, list...)
			} else {
				list = append(list, direction{passed, turned})
			}
		}
	}
	return list
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
