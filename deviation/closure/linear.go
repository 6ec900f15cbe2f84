package closure

import (
	"math"

	"shutline/mesh/geom"
)

// vec6 and mat6 are over shifts along the axes in mm and turns about them through a centre in mm at a lever.
type (
	vec6 = geom.Vec6
	mat6 = geom.Mat6
)

// tukey is the biweight (Beaton & Tukey 1974).
func tukey(r, scale float64) float64 {
	u := r / scale
	if q := 1 - float64(u*u); q > 0 {
		return float64(q * q)
	}
	return 0
}

// moved returns g, then the small motion x about the centre.
func moved(g geom.Rigid, x *vec6, centre geom.Vec, lever float64) geom.Rigid {
	turn := geom.RotationVector(geom.Vec{X: x[3], Y: x[4], Z: x[5]}.Scale(1 / lever))
	turn.T = centre.Add(geom.Vec{X: x[0], Y: x[1], Z: x[2]}).Sub(turn.ApplyDir(centre))
	return turn.After(g).Orthonormal()
}

func root(x float64) float64 { return math.Sqrt(max(x, 0)) }
