package crosscut

import (
	"cmp"
	"fmt"
	"math"

	"shutline/mesh/geom"
)

const (
	// leastPlaces on a stretch, under which nothing is read from it.
	leastPlaces = 8
	leastDrawn  = 4 // of a reference, whose places lie on the drawn surface
	// leastArc is the arc in radians that a radius is read from: on 20° a noise of a
	// hundredth of the radius gives half the radius.
	leastArc = 20 * math.Pi / 180
	// shared widens U: neighbouring places of a cut lie on edges that share scan points,
	// about two places to one independent point.
	shared = 1.4142135623730951
	// mostDoubt is the share of a radius that its U may be.
	mostDoubt = 0.5
)

// read takes all read-outs.
func (s *Section) read() {
	for _, r := range s.Spec.Radii {
		out := Reading{Name: r.Name, Kind: "radius"}
		out.At[0] = s.flat(r.At)
		out.At[1] = out.At[0]
		if out.Why = s.offPlane(r.At, r.Within, "its place"); out.Why == "" {
			q := query{curves: s.Scan, at: out.At[0], within: r.Within, least: leastPlaces, row: RowOf(s.Spec) != s.Spec.Name}
			out.Scan, out.Centre, out.Why = q.radius()
			if len(s.Reference) > 0 {
				q.curves, q.least, q.drawn = s.Reference, leastDrawn, true
				out.Reference, _, out.WhyReference = q.radius()
			}
		}
		s.Readings = append(s.Readings, out)
	}
	for _, a := range s.Spec.Angles {
		out := Reading{Name: a.Name, Kind: "angle"}
		out.At = [2]Point2{s.flat(a.Between[0]), s.flat(a.Between[1])}
		for k, p := range a.Between {
			out.Why = cmp.Or(out.Why, s.offPlane(p, a.Within, fmt.Sprintf("place %d", k+1)))
		}
		if out.Why == "" {
			out.Scan, out.Why = angleOfScan(s.Scan, out.At, a.Within)
			if len(s.Reference) > 0 {
				out.Reference, out.WhyReference = angle(s.Reference, out.At, a.Within, leastDrawn)
			}
		}
		s.Readings = append(s.Readings, out)
	}
}

// offPlane says of a place that lies farther off the plane than is looked at.
func (s *Section) offPlane(p geom.Vec, within float64, place string) string {
	d := math.Abs(p.Sub(s.Spec.Point).Dot(s.Spec.Normal.Unit()))
	if d <= within {
		return ""
	}
	return fmt.Sprintf("%s lies %.1f mm off the plane, and only what lies within %g mm of it is looked at; put it into the plane", place, d, within)
}

// fewPlaces says why a stretch of a curve holds too few places to read anything from.
func fewPlaces(curves []Curve, at Point2, found int, within float64, place string, least int) string {
	if found > 0 {
		return fmt.Sprintf("only %d places of the curve lie within %g mm of %s; at least %d are needed; take a wider within, or scan finer", found, within, place, least)
	}
	nearest := math.Inf(1)
	for _, c := range curves {
		for _, p := range c.Points {
			nearest = min(nearest, far(p, at))
		}
	}
	if math.IsInf(nearest, 1) {
		return "there is no curve"
	}
	return fmt.Sprintf("%s lies %.1f mm from the nearest place of the curve, and only what lies within %g mm of it is looked at; put it on the curve", place, nearest, within)
}

// span is part of a curve: its places from lo to hi, counted on past the end of a closed one.
type span struct{ curve, lo, hi, of int }

// shares returns how many places two spans have in common.
func (s span) shares(t span) (n int) {
	if s.curve != t.curve {
		return 0
	}
	for k := s.lo; k <= s.hi; k++ {
		for _, round := range []int{-s.of, 0, s.of} {
			if k+round >= t.lo && k+round <= t.hi {
				n++
				break
			}
		}
	}
	return n
}

// stretch returns the run of places within a distance of a place, on the curve that
// comes nearest to it, the curve's direction there and where on the curve it is.
func stretch(curves []Curve, at Point2, within float64) (run []Point2, along Point2, where span) {
	best, curve, place := within, -1, 0
	for k, c := range curves {
		for i, p := range c.Points {
			if d := far(p, at); d < best {
				best, curve, place = d, k, i
			}
		}
	}
	if curve < 0 {
		return nil, along, span{curve: -1}
	}
	points := curves[curve].Points
	n := len(points)
	lo, hi := place, place
	if curves[curve].Closed {
		for hi-lo < n-1 && far(points[((lo-1)%n+n)%n], at) <= within {
			lo--
		}
		for hi-lo < n-1 && far(points[(hi+1)%n], at) <= within {
			hi++
		}
	} else {
		for lo > 0 && far(points[lo-1], at) <= within {
			lo--
		}
		for hi < n-1 && far(points[hi+1], at) <= within {
			hi++
		}
	}
	for i := lo; i <= hi; i++ {
		run = append(run, points[(i%n+n)%n])
	}
	a, b := run[0], run[len(run)-1]
	l := max(far(a, b), 1e-12)
	return run, Point2{(b.H - a.H) / l, (b.V - a.V) / l}, span{curve, lo, hi, n}
}

func far(a, b Point2) float64 {
	return math.Sqrt(float64((a.H-b.H)*(a.H-b.H)) + float64((a.V-b.V)*(a.V-b.V)))
}

// solve solves a symmetric system of three.
func solve(m geom.Mat3, g geom.Vec) (geom.Vec, bool) {
	det := m.Det()
	if !(math.Abs(det) > 1e-14*math.Abs(float64(float64(m[0][0]*m[1][1])*m[2][2]))) {
		return geom.Vec{}, false
	}
	col := func(k int) float64 {
		c := m
		for row := range 3 {
			c[row][k] = g.At(row)
		}
		return c.Det() / det
	}
	return geom.Vec{X: col(0), Y: col(1), Z: col(2)}, true
}

// turn returns the angle from a to b, radians.
func turn(a, b Point2) float64 {
	return geom.Atan2(float64(a.H*b.V)-float64(a.V*b.H), float64(a.H*b.H)+float64(a.V*b.V))
}
