package shade

import (
	"image/color"
	"math"
	"sync"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Scale maps a deviation in mm to a colour. Inside the tolerance the part stays
// a neutral light grey; outside it a diverging scale grows with the deviation up to Limit.
type Scale struct {
	Tolerance verdict.Tolerance
	Limit     float64 // mm, where the scale ends on both sides
}

// firstStep is where on a side of the scale, 0 at its grey middle and 1 at its
// end, the first deviation outside the tolerance starts. At 0.3 its lightness
// is 6 L* below the middle and its chroma about 25: seen at once beside the
// grey, and still two thirds of the lightness are left to grow into.
const firstStep = 0.3

// limitPerTolerance is how many tolerances the scale of NewScale spans: enough
// to tell a dent from a slip of the fit, few enough to see small faults.
const limitPerTolerance = 3

// NewScale returns the scale this tool uses for a tolerance where no other is
// asked for: up to three times the larger limit.
func NewScale(t verdict.Tolerance) Scale {
	limit := limitPerTolerance * max(math.Abs(t.Lo), math.Abs(t.Hi))
	if !(limit > 0) || math.IsInf(limit, 0) {
		limit = 1
	}
	return Scale{Tolerance: t, Limit: limit}
}

// Inside reports whether a deviation lies in the tolerance and is drawn neutral.
func (s Scale) Inside(mm float64) bool { return mm >= s.Tolerance.Lo && mm <= s.Tolerance.Hi }

// Color returns the colour of a deviation. What is no number gets the dark grey
// of the unknown, which is no colour of the scale.
func (s Scale) Color(mm float64) color.RGBA {
	switch {
	case math.IsNaN(mm):
		return unknownGrey
	case s.Inside(mm):
		return Diverging(0.5)
	case mm > s.Tolerance.Hi:
		return Diverging(0.5 + float64(0.5*s.strength(mm, s.Tolerance.Hi)))
	}
	return Diverging(0.5 - float64(0.5*s.strength(-mm, -s.Tolerance.Lo)))
}

// strength returns how far out on its side of the scale, firstStep to 1, a
// deviation beyond the limit of tolerance edge lies; both counted outward.
func (s Scale) strength(mm, edge float64) float64 {
	if !(s.Limit > edge) || mm >= s.Limit {
		return 1
	}
	return firstStep + float64((1-firstStep)*(mm-edge)/(s.Limit-edge))
}

// unknownGrey stands for "no number" where no hatch can be drawn.
var unknownGrey = color.RGBA{R: 0x6b, G: 0x70, B: 0x76, A: 255}

// Diverging returns the colour at t, 0 (cool end) over 0.5 (grey) to 1 (warm
// end), of the cool-warm scale of Moreland, Diverging Color Maps for Scientific
// Visualization, ISVC 2009, LNCS 5876:92-103. t outside 0 to 1 is clamped.
func Diverging(t float64) color.RGBA {
	table := divergingTable()
	i := int(math.Floor(float64(t*divergingSteps) + 0.5))
	return table[max(0, min(divergingSteps, i))]
}

// divergingSteps keeps neighbouring entries under one 8-bit level apart in most
// channels, so that looking up loses nothing against computing.
const divergingSteps = 1024

var divergingTable = sync.OnceValue(func() (table [divergingSteps + 1]color.RGBA) {
	for i := range table {
		table[i] = moreland(float64(i) / divergingSteps)
	}
	return table
})

// msh is Moreland's polar form of CIELAB: M the distance from black, s the
// angle from the grey axis, h the hue, angles in radians.
type msh struct{ m, s, h float64 }

// The anchors of the published cool-warm scale.
var (
	coolEnd = msh{80, 1.08, -1.1}
	middle  = msh{88, 0, 0}
	warmEnd = msh{80, 1.08, 0.5}
)

// moreland interpolates in Msh between an end and the middle; the middle takes
// over the end's hue, spun so that the path stays even (section 5 of the paper).
func moreland(t float64) color.RGBA {
	end, share := coolEnd, 1-float64(2*t)
	spin := -hueSpin(coolEnd)
	if t > 0.5 {
		end, share = warmEnd, float64(2*t)-1
		spin = hueSpin(warmEnd)
	}
	grey := msh{middle.m, middle.s, end.h + spin}
	mix := func(a, b float64) float64 { return a + float64(share*(b-a)) }
	return msh{mix(grey.m, end.m), mix(grey.s, end.s), mix(grey.h, end.h)}.rgb()
}

// hueSpin is how far the hue turns from a saturated end to the lighter grey.
func hueSpin(end msh) float64 {
	sin, _ := geom.Sincos(end.s)
	return end.s * math.Sqrt(float64(middle.m*middle.m)-float64(end.m*end.m)) / float64(end.m*sin)
}

// rgb converts to sRGB (IEC 61966-2-1) over CIELAB with the white point D65.
func (c msh) rgb() color.RGBA {
	sinS, cosS := geom.Sincos(c.s)
	sinH, cosH := geom.Sincos(c.h)
	l := float64(c.m * cosS)
	a := float64(c.m * sinS * cosH)
	b := float64(c.m * sinS * sinH)
	cube := func(f float64) float64 {
		if f > 6.0/29 {
			return f * f * f
		}
		return (f - 16.0/116) * 3 * 36 / 841
	}
	fy := (l + 16) / 116
	x, y, z := 0.9505*cube(fy+float64(a/500)), cube(fy), 1.089*cube(fy-float64(b/200))
	return color.RGBA{
		R: encode(float64(3.2406*x) - float64(1.5372*y) - float64(0.4986*z)),
		G: encode(float64(-0.9689*x) + float64(1.8758*y) + float64(0.0415*z)),
		B: encode(float64(0.0557*x) - float64(0.2040*y) + float64(1.0570*z)),
		A: 255,
	}
}

// encode turns linear light, 0 to 1, into an sRGB byte.
func encode(v float64) uint8 {
	v = max(0, min(1, v))
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = float64(1.055*geom.Pow(v, 1/2.4)) - 0.055
	}
	return uint8(math.Floor(float64(v*255) + 0.5))
}
