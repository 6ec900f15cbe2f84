package crosscut

import (
	"fmt"
	"math"

	"shutline/deviation/verdict"
)

// mostTurn is how large, radians, U of an angle may be: more tells no fold from another.
const mostTurn = 10 * math.Pi / 180

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
