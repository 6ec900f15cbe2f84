package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// The skin is y = -F(x, z).
const (
	bulgeRadiusZ = 2200.0 // mm, of the bulge over the height
	bulgeRadiusX = 9000.0 // mm, over the length
	bulgeX       = 1300.0 // mm, where the side is widest
	bulgeZ       = 420.0

	creaseZ     = 560.0 // mm, height of the character line at x = 1200
	creaseRise  = 0.03  // mm per mm rearward
	creaseSlope = 0.1   // mm per mm on either side of it
	creaseCore  = 1.2   // mm; slope and core give a radius of core/slope = 12 mm
	creaseWidth = 36.0  // mm; the line stands creaseSlope*(width-core) = 3.5 mm proud
)

// skin is one panel's outer surface. Its deformations are part of the formula.
type skin struct {
	twist          float64 // mm per mm² of (z - twistZ)(x - twistX)
	twistX, twistZ float64
	dentDepth      float64 // mm, inward
	dentRadius     float64
	dentX, dentZ   float64
}

func creaseHeight(x float64) float64 { return creaseZ + float64(creaseRise*(x-1200)) }

// height returns F and its slopes along x and z.
func (k *skin) height(x, z float64) (f, fx, fz float64) {
	dx, dz := x-bulgeX, z-bulgeZ
	f = -float64(dx*dx)/(2*bulgeRadiusX) - float64(dz*dz)/(2*bulgeRadiusZ)
	fx = -dx / bulgeRadiusX
	fz = -dz / bulgeRadiusZ
	u := z - creaseHeight(x)
	u2 := float64(u * u)
	core := math.Sqrt(u2 + creaseCore*creaseCore)
	wide := math.Sqrt(u2 + creaseWidth*creaseWidth)
	f += float64(creaseSlope * (wide - core))
	du := float64(creaseSlope * (u/wide - u/core))
	fz += du
	fx -= float64(creaseRise * du)
	if k.twist != 0 {
		tx, tz := x-k.twistX, z-k.twistZ
		f += float64(float64(k.twist*tx) * tz)
		fx += float64(k.twist * tz)
		fz += float64(k.twist * tx)
	}
	if k.dentDepth != 0 {
		ex, ez := (x-k.dentX)/k.dentRadius, (z-k.dentZ)/k.dentRadius
		if q := 1 - float64(ex*ex) - float64(ez*ez); q > 0 {
			// (1-rho²)³ leaves the sheet without a step in its curvature.
			f -= float64(float64(k.dentDepth*q) * float64(q*q))
			g := 6 * k.dentDepth / k.dentRadius * float64(q*q)
			fx += float64(g * ex)
			fz += float64(g * ez)
		}
	}
	return f, fx, fz
}

// at returns the point of the skin at x, z and its outward unit normal.
func (k *skin) at(x, z float64) (p, n geom.Vec) {
	f, fx, fz := k.height(x, z)
	return geom.Vec{X: x, Y: -f, Z: z}, geom.Vec{X: -fx, Y: -1, Z: -fz}.Unit()
}

// closest returns the point of the endless skin nearest to p, where p is
// within a few mm of it, as x and z.
func (k *skin) closest(p geom.Vec) (x, z float64) {
	x, z = p.X, p.Z
	// Stepping to the foot on the tangent plane converges by |distance/radius|
	// a step, at worst about 3/12 on the character line: 60 steps reach 1e-12.
	for range 60 {
		q, n := k.at(x, z)
		d := p.Sub(q)
		foot := d.AddScaled(-d.Dot(n), n)
		x += foot.X
		z += foot.Z
		if math.Abs(foot.X)+math.Abs(foot.Z) < 1e-11 {
			break
		}
	}
	return x, z
}
