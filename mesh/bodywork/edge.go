package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

const (
	gapNominal = 4.0 // mm, between the noses of neighbouring panels
	hemRadius  = 1.5 // mm, outer radius of a hem
	hemReturn  = 7.0 // mm, how far a hem comes back behind the skin
)

// shoulderOffset is how far a shoulder lies from the middle of the gap. Gap is
// drawn between noses, which lie a radius deeper than the bulging skin and
// therefore closer together than points on it.
const shoulderOffset = (gapNominal/2 + hemRadius) * (1 + hemRadius/bulgeRadiusX)

// shutLine is the middle of a gap on the undeformed skin, as x over z.
type shutLine struct{ x, slope, radius float64 }

const shutLineZ = 450.0

func (l shutLine) at(z float64) (x, dx float64) {
	u := z - shutLineZ
	return l.x + float64(l.slope*u) + float64(u*u)/(2*l.radius), l.slope + u/l.radius
}

// edge is a hemmed border of a panel: the skin ends at the shoulder, whence a
// tube of radius hemRadius, tangent to the skin, leads round by 180 degrees into
// the return. The tube is that of a ball rolling along the inside of the skin
// (Rossignac & Requicha 1984), so its centre line is the shoulder moved inward
// by the radius and its circles are square to the centre line.
type edge struct {
	skin    *skin
	nominal *skin
	line    shutLine
	side    float64 // +1: the other panel lies rearward of this one, -1: forward
	longer  float64 // mm, by which the edge runs into the gap at longZ
	fromZ   float64 // mm, where it begins to
	longZ   float64
}

// width returns mm of x for a mm on the skin square to the shut line.
func (e *edge) width(z float64) float64 {
	x, dx := e.line.at(z)
	_, fx, fz := e.nominal.height(x, z)
	ex, ez := float64(dx*fx)+fz, dx
	// The line's tangent is (dx, -(fx dx + fz), 1); the area of the skin over that of its shadow is the root below.
	along := math.Sqrt(float64(ez*ez) + float64(ex*ex) + 1)
	return along / math.Sqrt(1+float64(fx*fx)+float64(fz*fz))
}

// shoulderX returns x of the shoulder at z.
func (e *edge) shoulderX(z float64) float64 {
	x, _ := e.line.at(z)
	x -= float64(e.side * shoulderOffset * e.width(z))
	if e.longer != 0 && z > e.fromZ {
		u := (z - e.fromZ) / (e.longZ - e.fromZ)
		x += float64(e.side * e.longer * float64(u*u))
	}
	return x
}

// centre returns a point of the tube's centre line and the skin's normal there.
func (e *edge) centre(z float64) (c, n geom.Vec) {
	s, n := e.skin.at(e.shoulderX(z), z)
	return s.AddScaled(-hemRadius, n), n
}

// station is a place along an edge: the tube's circle there.
type station struct {
	z    float64
	c    geom.Vec // centre
	n, t geom.Vec // unit: outward at the shoulder, and toward the gap
	f    geom.Vec // unit, along the centre line, upward
}

// slopeStep is the half-step of the five-point formula for the centre line's
// tangent. Its error step⁴/30 times the fifth derivative is below 1e-9 on the character line
// (length scale 1.2 mm), rounding's 1e-13/step below 1e-10.
const slopeStep = 5e-3

// at returns the circle of the tube at height z of the shoulder.
func (e *edge) at(z float64) station {
	c, n := e.centre(z)
	p1, _ := e.centre(z + slopeStep)
	m1, _ := e.centre(z - slopeStep)
	p2, _ := e.centre(z + 2*slopeStep)
	m2, _ := e.centre(z - 2*slopeStep)
	d := geom.Vec{}.AddScaled(8, p1.Sub(m1)).Sub(p2.Sub(m2))
	f := d.Unit()
	// Without the differences' error n is square to f already.
	f = f.AddScaled(-f.Dot(n), n).Unit()
	t := geom.Vec{}.AddScaled(e.side, n.Cross(f).Neg())
	return station{z, c, n, t, f}
}

// roll returns the point of the rollover at arc phi from the shoulder, and its outward normal.
func (s station) roll(phi float64) (p, n geom.Vec) {
	sin, cos := geom.Sincos(phi)
	n = geom.Vec{}.AddScaled(cos, s.n).AddScaled(sin, s.t)
	return s.c.AddScaled(hemRadius, n), n
}

// hem returns the point of the return w mm behind the end of the rollover, and its outward (downward) normal.
func (s station) hem(w float64) (p, n geom.Vec) {
	return s.c.AddScaled(-hemRadius, s.n).AddScaled(-w, s.t), s.n.Neg()
}

// closest returns the circle whose plane holds p, for p within a few mm of the tube's axis.
func (e *edge) closest(p geom.Vec) station {
	z := p.Z
	var s station
	// Gauss-Newton on the centre line; its radius of curvature is above 10 mm, p's
	// distance from it about 1.5, so each step leaves about a seventh of the error.
	for range 40 {
		s = e.at(z)
		step := float64(p.Sub(s.c).Dot(s.f) * s.f.Z)
		z += step
		if math.Abs(step) < 1e-11 {
			break
		}
	}
	return s
}
