package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// The folded bracket, mm.
const (
	bracketSheet = 2.0 // thickness
	bracketBend  = 5.0 // radius of the middle of the sheet
)

// bracketRun is a stretch of the bracket's profile: a straight or a bend.
type bracketRun struct {
	length float64 // mm along the middle of the sheet
	turn   float64 // radians to the left
}

var bracketRuns = []bracketRun{
	{60, 0}, {bracketBend * math.Pi / 2, -math.Pi / 2}, {120, 0}, {bracketBend * 70 * math.Pi / 180, 70 * math.Pi / 180}, {40, 0},
}

// bracketHoles are round holes through the sheet: along the profile, across it, radius.
var bracketHoles = [...][3]float64{{30, 40, 9}, {30, 105, 6}, {95, 70, 16}, {150, 115, 8}, {218, 75, 7}}

// bracketAt returns the point of the sheet's middle at s along the profile and
// the unit normal to its left, in the plane of X and Z.
func bracketAt(s float64) (p, n geom.Vec) {
	heading := math.Pi / 2
	var at geom.Vec
	for i, r := range bracketRuns {
		l := r.length
		if s < l || i == len(bracketRuns)-1 {
			l = s
		}
		sin, cos := geom.Sincos(heading)
		if r.turn == 0 {
			at = at.Add(geom.Vec{X: float64(l * cos), Z: float64(l * sin)})
		} else {
			radius := r.length / r.turn
			sin2, cos2 := geom.Sincos(heading + l/radius)
			at = at.Add(geom.Vec{X: float64(radius * (sin2 - sin)), Z: float64(radius * (cos - cos2))})
			heading += l / radius
		}
		s -= l
		if s <= 0 {
			break
		}
	}
	sin, cos := geom.Sincos(heading)
	return at, geom.Vec{X: -sin, Z: cos}
}

// bracketWidth returns where the sheet begins and ends across the profile.
func bracketWidth(s float64) (lo, hi float64) { return float64(0.08 * s), 160 - float64(0.02*s) }

// Bracket returns a folded sheet-metal bracket some 130 by 160 by 100 mm: two
// flanges of different length on a base, both skins, the cut edges and open holes.
func Bracket(s Sampling) *mesh.Mesh {
	length := 0.0
	for _, r := range bracketRuns {
		length += r.length
	}
	step := math.Sqrt(2 * length * 145 / (float64(max(s.Triangles, 8)) / 2))
	us := []float64{0}
	at := 0.0
	for _, r := range bracketRuns {
		n := max(1, int(math.Ceil(r.length/step)))
		if r.turn != 0 {
			n = max(n, 24)
		}
		us = evenly(us, at, at+r.length, n)
		at += r.length
	}
	vs := evenly([]float64{0}, 0, 1, max(2, int(150/step)))
	across := func(s, v float64) float64 {
		lo, hi := bracketWidth(s)
		return lo + float64(v*(hi-lo))
	}
	point := func(s, v, d float64) geom.Vec {
		w := across(s, v)
		s, w = toRim(s, w, step)
		p, n := bracketAt(s)
		p.Y = w
		return p.AddScaled(d, n)
	}
	hole := func(s, v float64) bool {
		w := across(s, v)
		for _, h := range bracketHoles {
			ds, dw := s-h[0], w-h[1]
			if float64(ds*ds)+float64(dw*dw) < h[2]*h[2] {
				return true
			}
		}
		return false
	}
	const half = bracketSheet / 2
	ds := evenly([]float64{-half}, -half, half, max(1, int(bracketSheet/step)))
	ends := []float64{0, 1}
	parts := []*mesh.Mesh{
		s.grown(1, us, vs, false, func(u, v float64) geom.Vec { return point(u, v, half) }, hole),
		s.grown(2, us, vs, true, func(u, v float64) geom.Vec { return point(u, v, -half) }, hole),
	}
	for k, v := range ends {
		parts = append(parts, s.grown(uint64(3+k), us, ds, k == 1, func(u, d float64) geom.Vec { return point(u, v, d) }, nil))
	}
	for k, u := range []float64{0, length} {
		parts = append(parts, s.grown(uint64(5+k), vs, ds, k == 0, func(v, d float64) geom.Vec { return point(u, v, d) }, nil))
	}
	return joined(parts...)
}

// toRim moves a sample that lies within half a step of a hole's rim onto it, so
// that holes are round.
func toRim(s, w, step float64) (onS, onW float64) {
	for _, h := range bracketHoles {
		ds, dw := s-h[0], w-h[1]
		d := math.Sqrt(float64(ds*ds) + float64(dw*dw))
		if d > 0 && math.Abs(d-h[2]) < step/2 {
			return h[0] + float64(ds*h[2]/d), h[1] + float64(dw*h[2]/d)
		}
	}
	return s, w
}
