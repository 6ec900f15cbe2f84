package scanpath

import (
	"math"

	"shutline/mesh/geom"
)

// The body, mm.
const (
	Length = 4200.0
	Width  = 1700.0

	sillZ     = 300.0
	cornerR   = 300.0  // of the outline seen from above
	wallRise  = 1260.0 // straight part of the wall
	rollR     = 140.0  // from the wall into the roof
	roofZ     = sillZ + wallRise + rollR
	rimInset  = 200.0 // from the outline to where the wall's sheet ends on the roof
	ditch     = 8.0   // from there to the roof's sheet
	rollArc   = rollR * math.Pi / 2
	cornerArc = cornerR * math.Pi / 2
	halfFront = Width/2 - cornerR
	sideRun   = Length - 2*cornerR

	// Round is the way round the body, in U; WallTop is the upper end of the wall in V.
	Round   = 4*halfFront + 2*sideRun + 4*cornerArc
	WallTop = wallRise + rollArc + rimInset - rollR

	sideU = halfFront + cornerArc - cornerR // U less x on the left side

	archRadius  = 330.0
	frontWheelX = 780.0
	rearWheelX  = 3380.0

	gapWidth = 4.0
)

// Sheet says which coordinates a place is given in.
type Sheet uint8

// The sheets. The two roof sheets are one surface with the same coordinates,
// seen from the left and from the right.
const (
	Wall      Sheet = iota
	RoofLeft        // seen by the strokes of the left side
	RoofRight       // of the right side
)

// Place is a point of the body. On the wall U is mm round the body from the
// middle of the front, over the left side, and V mm up from the sill along the
// surface; U runs on past Round where the scanner comes over its start again, and
// U and U+Round are the same point of the body. On the roof U and V are mm along X
// and Y before the body got its shape.
type Place struct {
	Sheet Sheet
	U, V  float64
}

// Body is the van by formula. The zero value is not one: see [NewBody].
type Body struct{ wall, roof relief }

// NewBody returns the van as it is drawn.
func NewBody() *Body { return &Body{wallRelief(), roofRelief()} }

// with returns the body with more relief on its wall.
func (b *Body) with(more ...feature) *Body {
	w := b.wall
	w.features = append(append([]feature{}, w.features...), more...)
	return &Body{w, b.roof}
}

// outline returns a point of the outline u mm round it, its direction, and its curvature.
func outline(u float64) (p, t geom.Vec, curvature float64) {
	u -= float64(Round * math.Floor(u/Round))
	straight := func(x, y, dx, dy, along float64) (geom.Vec, geom.Vec, float64) {
		return geom.Vec{X: x + float64(dx*along), Y: y + float64(dy*along)}, geom.Vec{X: dx, Y: dy}, 0
	}
	// arc turns left round (x, y), from the direction (dx, dy).
	arc := func(x, y, dx, dy, along float64) (geom.Vec, geom.Vec, float64) {
		s, c := geom.Sincos(along / cornerR)
		t := geom.Vec{X: float64(dx*c) - float64(dy*s), Y: float64(dx*s) + float64(dy*c)}
		return geom.Vec{X: x + float64(cornerR*t.Y), Y: y - float64(cornerR*t.X)}, t, 1 / cornerR
	}
	const w = Width / 2
	for _, part := range [...]struct {
		length float64
		at     func(x, y, dx, dy, along float64) (geom.Vec, geom.Vec, float64)
		x, y   float64
		dx, dy float64
	}{
		{halfFront, straight, 0, 0, 0, -1},
		{cornerArc, arc, cornerR, -w + cornerR, 0, -1},
		{sideRun, straight, cornerR, -w, 1, 0},
		{cornerArc, arc, Length - cornerR, -w + cornerR, 1, 0},
		{2 * halfFront, straight, Length, -halfFront, 0, 1},
		{cornerArc, arc, Length - cornerR, w - cornerR, 0, 1},
		{sideRun, straight, Length - cornerR, w, -1, 0},
		{cornerArc, arc, cornerR, w - cornerR, -1, 0},
	} {
		if u <= part.length {
			return part.at(part.x, part.y, part.dx, part.dy, u)
		}
		u -= part.length
	}
	return straight(0, halfFront, 0, -1, u)
}

// profile returns how far a place V up the wall is drawn in from the outline, its
// height, and the first and second derivatives of both.
func profile(v float64) (in, z, din, dz, ddin, ddz float64) {
	switch {
	case v <= wallRise:
		return 0, sillZ + v, 0, 1, 0, 0
	case v <= wallRise+rollArc:
		s, c := geom.Sincos((v - wallRise) / rollR)
		return rollR - float64(rollR*c), sillZ + wallRise + float64(rollR*s), s, c, c / rollR, -s / rollR
	}
	return rollR + v - wallRise - rollArc, roofZ, 1, 0, 0, 0
}

// inset returns how far a point of the roof's coordinates lies inside the outline.
func inset(x, y float64) float64 {
	dx := math.Abs(x-Length/2) - (Length/2 - cornerR)
	dy := math.Abs(y) - (Width/2 - cornerR)
	out := math.Sqrt(float64(max(dx, 0)*max(dx, 0))+float64(max(dy, 0)*max(dy, 0))) + min(max(dx, dy), 0)
	return cornerR - out
}

// At returns the point of the body at a place and its outward unit normal. V of
// the wall is at most WallTop.
func (b *Body) At(at Place) (p, n geom.Vec) {
	if at.Sheet != Wall {
		h, hx, hy := b.roof.at(at.U, at.V)
		p, x, y := bent(geom.Vec{X: at.U, Y: at.V, Z: roofZ + h}, geom.Vec{X: 1, Z: hx}, geom.Vec{Y: 1, Z: hy})
		return p, x.Cross(y).Unit()
	}
	o, t, curvature := outline(at.U)
	out := geom.Vec{X: t.Y, Y: -t.X}
	in, z, din, dz, ddin, ddz := profile(at.V)
	h, hu, hv := b.wall.at(at.U, at.V)
	normal := geom.Vec{}.AddScaled(dz, out)
	normal.Z = din
	q := o.AddScaled(-in, out)
	q.Z = z
	q = q.AddScaled(h, normal)
	// The outward direction turns by curvature along U, the profile's by its second derivative along V.
	along := t.Scale(1-float64(curvature*in)+float64(float64(h*dz)*curvature)).AddScaled(hu, normal)
	up := out.Scale(-din + float64(h*ddz))
	up.Z = dz + float64(h*ddin)
	up = up.AddScaled(hv, normal)
	p, along, up = bent(q, along, up)
	return p, along.Cross(up).Unit()
}

// ShutLines returns where, in U, the gaps run up the wall.
func ShutLines() []float64 {
	var out []float64
	for _, x := range [3]float64{1190, 1900, 2760} {
		out = append(out, x+sideU)
	}
	out = append(out, Round/2)
	for _, x := range [3]float64{2760, 1900, 1190} {
		out = append(out, Round-(x+sideU))
	}
	return out
}

// inArch reports whether a place of the wall lies in the opening for a wheel.
func inArch(u, v float64) bool {
	for _, x := range [2]float64{frontWheelX, rearWheelX} {
		for _, middle := range [2]float64{x + sideU, -(x + sideU)} {
			d := wrap(u-middle, Round)
			if float64(d*d)+float64(v*v) < archRadius*archRadius {
				return true
			}
		}
	}
	return false
}
