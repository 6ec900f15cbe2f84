package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// Point2 is a point in a station's plane, mm: S from side A to side B, H outward.
type Point2 struct{ S, H float64 }

func (p Point2) minus(q Point2) Point2 { return Point2{p.S - q.S, p.H - q.H} }
func (p Point2) dot(q Point2) float64  { return float64(p.S*q.S) + float64(p.H*q.H) }

// Profile is one side's edge in a station's plane.
type Profile struct {
	// Arc gives the edge's point at arc phi (radians) from the shoulder, 0 to pi.
	Arc func(phi float64) Point2
	// Tangent is the face's unit tangent at the shoulder, toward the other panel.
	Tangent Point2
	Radius  float64 // mm
}

// CircleProfile returns the edge of a face that ends at a shoulder, its unit
// tangent pointing toward the gap, in a rollover of the radius; outward is +H.
func CircleProfile(shoulder, tangent Point2, radius float64) Profile {
	n := Point2{-tangent.H, tangent.S}
	if n.H < 0 {
		n = Point2{-n.S, -n.H}
	}
	return Profile{Tangent: tangent, Radius: radius, Arc: func(phi float64) Point2 {
		s, c := geom.Sincos(phi)
		a, b := float64(radius*s), float64(radius*(1-c))
		return Point2{
			shoulder.S + float64(a*tangent.S) - float64(b*n.S),
			shoulder.H + float64(a*tangent.H) - float64(b*n.H),
		}
	}}
}

// Measures are what a station must find.
type Measures struct {
	Gap, Feeler, Flush float64 // mm
	Angle              float64 // radians, positive when the other face falls away from the master's
	Shoulder, Nose     [2]Point2
	NoseArc            [2]float64 // radians from the shoulder
}

// Measure computes the figures of a station from its two edges (side A, side
// B) and which of them is the master, 0 or 1.
func Measure(sides [2]Profile, master int) Measures {
	m, o := sides[master], sides[1-master]
	t := m.Tangent
	n := Point2{-t.H, t.S}
	if n.H < 0 {
		n = Point2{-n.S, -n.H}
	}
	var r Measures
	r.NoseArc[master] = noseArc(m, t)
	r.NoseArc[1-master] = noseArc(o, Point2{-t.S, -t.H})
	for k := range sides {
		r.Shoulder[k] = sides[k].Arc(0)
		r.Nose[k] = sides[k].Arc(r.NoseArc[k])
	}
	r.Gap = t.dot(r.Nose[1-master].minus(r.Nose[master]))
	r.Flush = n.dot(r.Shoulder[1-master].minus(r.Shoulder[master]))
	// Going on over the other face leads against its own tangent.
	r.Angle = geom.Atan2(n.dot(o.Tangent), -t.dot(o.Tangent))
	r.Feeler = feeler(sides, r.NoseArc)
	return r
}

// noseArc returns the arc at which the edge advances farthest along d.
func noseArc(p Profile, d Point2) float64 {
	lo, hi := 0.0, math.Pi
	// The advance is rounded at its top: a golden section finds the arc to 1e-8 and the advance to 1e-16.
	const g = 0.6180339887498949
	a, b := hi-float64(g*(hi-lo)), lo+float64(g*(hi-lo))
	fa, fb := d.dot(p.Arc(a)), d.dot(p.Arc(b))
	for range 45 {
		if fa >= fb {
			hi, b, fb = b, a, fa
			a = hi - float64(g*(hi-lo))
			fa = d.dot(p.Arc(a))
		} else {
			lo, a, fa = a, b, fb
			b = lo + float64(g*(hi-lo))
			fb = d.dot(p.Arc(b))
		}
	}
	return (lo + hi) / 2
}

// pastNose is how far past its nose an edge counts for the feeler: 30 degrees.
const pastNose = math.Pi / 6

// feeler returns the shortest distance between the two edges, each from its
// shoulder to pastNose behind its nose; 0 when they cross.
func feeler(sides [2]Profile, nose [2]float64) float64 {
	const steps = 48
	var end [2]float64
	var line [2][steps + 1]Point2
	for k := range sides {
		end[k] = min(nose[k]+pastNose, math.Pi)
		for i := range line[k] {
			line[k][i] = sides[k].Arc(end[k] * float64(i) / steps)
		}
	}
	best, at := math.Inf(1), [2]float64{}
	for i, p := range line[0] {
		for j, q := range line[1] {
			if i > 0 && j > 0 && crosses(line[0][i-1], p, line[1][j-1], q) {
				return 0
			}
			if d := p.minus(q); d.dot(d) < best {
				best, at = d.dot(d), [2]float64{end[0] * float64(i) / steps, end[1] * float64(j) / steps}
			}
		}
	}
	// From the best pair of the grid, narrowing squares. The distance is rounded
	// at its least, so arcs to 1e-6 give it to 1e-12.
	for h := 1.0 / steps; h > 1e-6; h /= 2 {
		for moved := true; moved; {
			moved = false
			var near [2][3]Point2
			var arc [2][3]float64
			for k := range sides {
				for i := range 3 {
					arc[k][i] = min(max(at[k]+float64(float64(i-1)*h*end[k]), 0), end[k])
					near[k][i] = sides[k].Arc(arc[k][i])
				}
			}
			for i, p := range near[0] {
				for j, q := range near[1] {
					// Only a real gain moves on, so that this ends.
					if d := p.minus(q); d.dot(d) < best-1e-14 {
						best, at, moved = d.dot(d), [2]float64{arc[0][i], arc[1][j]}, true
					}
				}
			}
		}
	}
	return math.Sqrt(best)
}

// crosses reports whether segments ab and cd cross.
func crosses(a, b, c, d Point2) bool {
	turn := func(p, q, r Point2) float64 {
		u, v := q.minus(p), r.minus(p)
		return float64(u.S*v.H) - float64(u.H*v.S)
	}
	return float64(turn(a, b, c)*turn(a, b, d)) < 0 && float64(turn(c, d, a)*turn(c, d, b)) < 0
}
