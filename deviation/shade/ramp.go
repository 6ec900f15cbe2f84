package shade

import (
	"image/color"
	"math"
)

// Ramp maps a size in mm, such as an uncertainty, to a colour: from the neutral
// grey of the bare part at 0 to a dark green at Limit. Neither colour is one of
// a deviation's, and the lightness alone tells, for whoever sees no hue.
type Ramp struct {
	Limit float64 // mm
}

// darkEnd is the end of the ramp: 50 M below the grey, some 45 L*, in a hue
// between those of the diverging scale's ends.
var darkEnd = msh{38, 0.5, 2.6}

// Color returns the colour of a size; what is no number gets the dark grey of the unknown.
func (r Ramp) Color(mm float64) color.RGBA {
	if math.IsNaN(mm) {
		return unknownGrey
	}
	t := max(0, min(1, mm/r.limit()))
	mix := func(a, b float64) float64 { return a + float64(t*(b-a)) }
	return msh{mix(middle.m, darkEnd.m), mix(middle.s, darkEnd.s), darkEnd.h}.rgb()
}

func (r Ramp) limit() float64 {
	if !(r.Limit > 0) || math.IsInf(r.Limit, 0) {
		return 1
	}
	return r.Limit
}

// PaintRamp is Paint with sizes on a ramp.
func (m *Model) PaintRamp(mm []float64, known []bool, ramp Ramp) {
	m.PaintBy(mm, known, ramp.limit(), ramp.Color)
}
