package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// The smooth body side, mm.
const (
	smoothLength = 2400.0
	smoothHeight = 900.0
	smoothRadius = 2.0 // of the hems
	smoothGap    = 4.0
	smoothHem    = smoothRadius * 150 * math.Pi / 180 // its arc
)

// smoothSkin is the outward offset y at (x, z): crowned in both directions, with
// one soft, slightly slanted crease.
func smoothSkin(x, z float64) float64 {
	_, along := geom.Sincos((x - 1200) / 1500)
	up := (z - 420) / 620
	t := z - 610 - float64(0.02*x)
	// A hinge of radius 6 mm or so that fades out again 60 mm from its line.
	bend := (t/6 + math.Sqrt(float64(t/6*(t/6))+2)) / 2
	return float64(70*(1-float64(up*up))) + float64(25*along) + float64(9*bend)/(1+math.Abs(t)/60)
}

// SmoothSide returns a body side of 2400 by 900 mm that is smooth but for a
// wheel arch cut out of it and one shut line whose two panels end in hems: the
// hardest usual case for a placement, since skin alone lets a scan slide. It
// looks along +Y, Z is up.
func SmoothSide(s Sampling) *mesh.Mesh {
	var parts []*mesh.Mesh
	for side := range 2 {
		sign, width := 1.0, 1250.0
		if side == 1 {
			sign, width = -1, smoothLength-1250
		}
		step := math.Sqrt(width * smoothHeight / (float64(max(s.Triangles, 8)) / 4))
		us := evenly([]float64{0}, 0, smoothHem, max(6, int(6/step)+6))
		us = evenly(us, smoothHem, width, int(width/step)+1)
		vs := evenly([]float64{0}, 0, smoothHeight, int(smoothHeight/step)+1)
		at := func(u, z float64) geom.Vec { return smoothAt(sign, u, z) }
		parts = append(parts, s.grown(uint64(side), us, vs, side == 1, at, func(u, z float64) bool {
			p := smoothAt(sign, u, z)
			dx, dz := p.X-620, p.Z+20
			return float64(dx*dx)+float64(dz*dz) < 340*340
		}))
	}
	return joined(parts...)
}

// smoothAt returns the point at the distance u from the end of the hem, over
// hem and face, at height z; sign is +1 for the panel in front, x < 1250.
func smoothAt(sign, u, z float64) geom.Vec {
	bow, _ := geom.Sincos(z / smoothHeight * math.Pi)
	edge := 1250 + float64(40*bow) - float64(sign*smoothGap/2)
	angle := max(smoothHem-u, 0) / smoothRadius
	sin, cos := geom.Sincos(angle)
	x := edge - float64(sign*(smoothRadius+max(u-smoothHem, 0))) + float64(sign*smoothRadius*sin)
	return geom.Vec{X: x, Y: smoothSkin(x, z) - float64(smoothRadius*(1-cos)), Z: z}
}
