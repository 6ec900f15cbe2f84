package align

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"shutline/mesh/geom"
)

// ErrDatums is the sentinel of datums that determine no placement.
var ErrDatums = errors.New("the datums determine no placement")

// DatumCount is the number of datums of a 3-2-1 placement: as many as there are
// motions. More would over-determine it and are refused, not averaged: which of
// them the part rests on would be a guess.
const DatumCount = 6

// Datum is a target on the reference, in its frame, with the direction along
// which the scan is to meet it; the direction need not be of unit length. Of six,
// the first three set the plane, the next two the line, the last the point.
type Datum struct{ Point, Normal geom.Vec }

// DatumFit is how a 3-2-1 placement came about.
type DatumFit struct {
	Met      []DatumMet
	Rounds   int     // steps until the placement rested
	LastStep float64 // mm, greatest over the reference's box
	// Gain is how far half the reference's diagonal away the part moves, at most,
	// per mm that the datums are off together (root of the sum of squares).
	Gain float64
}

// DatumMet is a datum and the scan's surface there.
type DatumMet struct {
	Datum
	Start   float64 // mm along the direction, where the best fit that was started from had the surface
	Left    float64 // mm, where the placement has it
	Sigma   float64 // mm, standard uncertainty of the surface's place
	Scatter float64 // mm, standard deviation of the points about the patch that was fitted
	Points  int     // of the patch
	Radius  float64 // mm, of the patch
	// Off in mm is how far the point as written stands off the reference, positive
	// outside, and Slant in radians how far the direction leans from its normal.
	Off, Slant float64
}

const (
	// sameDatum in mm and sameDirection, the cosine of 30 degrees: points closer
	// than a target mark is wide with directions that agree are one datum twice.
	sameDatum     = 1.0
	sameDirection = 0.8660254037844387

	// datumFloor is the least singular value of the six equations, turns counted
	// at half the reference's diagonal: under it a scanner's noise of 0.03 mm at the
	// datums moves the part by heldSigma there, and the motion counts as not held.
	datumFloor = 0.03
)

// datumStep returns the small turn (radians) and shift (mm), about the origin, that
// take back the deviations d, mm along the directions, of the points at:
//
//	n_i · (w × p_i + t) = −d_i
//
// ok is false when the six equations have no single answer.
func datumStep(at, directions []geom.Vec, d []float64) (turn, shift geom.Vec, ok bool) {
	centre, lever := meanOf(at), spanOf(at)
	var rows [6]vec6
	var b vec6
	for k := range rows {
		rows[k] = jacobian(at[k], directions[k], centre, lever)
		b[k] = -d[k]
	}
	inverse, ok := invert6(rows)
	if !ok {
		return turn, shift, false
	}
	var x vec6
	for i := range 6 {
		x[i] = dot6(&inverse[i], &b)
	}
	turn = geom.Vec{X: x[3], Y: x[4], Z: x[5]}.Scale(1 / lever)
	shift = geom.Vec{X: x[0], Y: x[1], Z: x[2]}.Sub(turn.Cross(centre))
	return turn, shift, true
}

// spanOf returns half the diagonal of the points' box, at least 1 mm.
func spanOf(points []geom.Vec) float64 { return max(geom.BoxOf(points).Diagonal()/2, 1) }

// invert6 returns the inverse of a matrix given by rows (Gauss and Jordan's
// elimination with the greatest pivot of each column).
func invert6(a [6]vec6) (inverse [6]vec6, ok bool) {
	for i := range 6 {
		inverse[i][i] = 1
	}
	for c := range 6 {
		p := c
		for r := c + 1; r < 6; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if a[p][c] == 0 {
			return inverse, false
		}
		a[c], a[p] = a[p], a[c]
		inverse[c], inverse[p] = inverse[p], inverse[c]
		for r := range 6 {
			if r == c {
				continue
			}
			s := a[r][c] / a[c][c]
			for k := range 6 {
				a[r][k] -= float64(s * a[c][k])
				inverse[r][k] -= float64(s * inverse[c][k])
			}
		}
	}
	for r := range 6 {
		for k := range 6 {
			inverse[r][k] /= a[r][r]
		}
	}
	return inverse, true
}

// checkDatums refuses datums that are not six, not finite, or the same twice.
func checkDatums(datums []Datum) error {
	if n := len(datums); n != DatumCount {
		return fmt.Errorf("align: there are %d datums, and a 3-2-1 placement takes exactly %d: three for the plane, two for the line, one for the point; "+
			"to place by more, use point pairs or a best fit on regions: %w", n, DatumCount, ErrDatums)
	}
	for i, d := range datums {
		if !d.Point.IsFinite() || !d.Normal.IsFinite() || d.Normal.Unit() == (geom.Vec{}) {
			return fmt.Errorf("align: datum %d has a coordinate that is not finite or a direction of no length: %w", i+1, ErrDatums)
		}
		for j, e := range datums[:i] {
			cos := math.Abs(d.Normal.Unit().Dot(e.Normal.Unit()))
			if apart := d.Point.Dist(e.Point); apart < sameDatum && cos > sameDirection {
				return fmt.Errorf("align: datums %d and %d are the same twice: %.2g mm apart, with directions that agree within %.0f degrees; move one of them: %w",
					j+1, i+1, apart, degrees(angleOf(min(cos, 1))), ErrDatums)
			}
		}
	}
	return nil
}

// checkHold refuses datums that, met at the points with the directions along which
// the surface resists, do not hold all six motions. gain is what DatumFit says.
func checkHold(datums []Datum, directions []geom.Vec, lever float64) (gain float64, err error) {
	at := pointsOf(datums)
	centre := meanOf(at)
	var a sym6
	for k := range at {
		j := jacobian(at[k], directions[k], centre, lever)
		a.addOuter(1, &j)
	}
	a.mirror()
	values, vectors := eigen6(&a)
	var loose []vec6
	for k, v := range vectors {
		if root(values[k]) < datumFloor {
			loose = append(loose, v)
		}
	}
	if len(loose) == 0 {
		return 1 / root(values[0]), nil
	}
	var free []string
	for _, v := range slidesAndTurns(loose) {
		shift, turn := geom.Vec{X: v[0], Y: v[1], Z: v[2]}, geom.Vec{X: v[3], Y: v[4], Z: v[5]}.Scale(1/lever)
		free = append(free, motionWords(shift, turn, centre, lever))
	}
	named := "a " + strings.Join(free, "; a ")
	if apart, odd := offLine(at[0], at[1], at[2]); apart < 2*datumFloor*lever {
		return 0, fmt.Errorf("align: datums 1, 2 and 3, which set the plane, lie on one line: datum %d is only %.3g mm off the line through the other two; "+
			"move it at least %.0f mm off it. Not held: %s: %w", odd+1, apart, 2*datumFloor*lever, named, ErrDatums)
	}
	up := directions[0].Unit().Add(directions[1].Unit()).Add(directions[2].Unit()).Unit()
	if apart := math.Abs(at[4].Sub(at[3]).Dot(up.Cross(directions[3].Unit()).Unit())); apart < 2*datumFloor*lever {
		return 0, fmt.Errorf("align: datums 4 and 5, which set the line, coincide: they lie only %.3g mm apart along it; "+
			"move them at least %.0f mm apart. Not held: %s: %w", apart, 2*datumFloor*lever, named, ErrDatums)
	}
	return 0, fmt.Errorf("align: the six datums hold only %d of the 6 motions: they let the scan %s. "+
		"Turn a datum's direction that way, or move it: %w", 6-len(loose), letting(free), ErrDatums)
}

// letting joins motions that something leaves open: "slide along X and turn about an axis along Z".
func letting(motions []string) string {
	if n := len(motions); n > 1 {
		return strings.Join(motions[:n-1], ", ") + " and " + motions[n-1]
	}
	return strings.Join(motions, "")
}

// offLine returns the least distance of one of three points from the line
// through the other two, and which it is.
func offLine(a, b, c geom.Vec) (apart float64, odd int) {
	area2 := b.Sub(a).Cross(c.Sub(a)).Norm()
	longest := 0.0
	for k, side := range [3]float64{b.Dist(c), c.Dist(a), a.Dist(b)} {
		if side > longest {
			longest, odd = side, k
		}
	}
	if longest == 0 {
		return 0, 2
	}
	return area2 / longest, odd
}

func pointsOf(datums []Datum) []geom.Vec {
	out := make([]geom.Vec, len(datums))
	for k, d := range datums {
		out[k] = d.Point
	}
	return out
}

func root(v float64) float64 { return math.Sqrt(max(v, 0)) }

func degrees(radians float64) float64 { return radians * 180 / math.Pi }

// angleOf returns the angle, 0 to pi, whose cosine is given.
func angleOf(cos float64) float64 { return geom.Atan2(root(1-float64(cos*cos)), cos) }
