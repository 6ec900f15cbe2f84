package app

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"shutline/mesh/geom"
)

// planeResidual returns the standard deviation of points from their total
// least-squares plane with n - 3 degrees of freedom, 0 for fewer than four.
func planeResidual(points []geom.Vec) float64 {
	n := len(points)
	if n < 4 {
		return 0
	}
	var c geom.Vec
	for _, p := range points {
		c = c.Add(p)
	}
	c = c.Scale(1 / float64(n))
	s := mat.NewSymDense(3, nil)
	for _, p := range points {
		d := p.Sub(c)
		for i := range 3 {
			for j := i; j < 3; j++ {
				s.SetSym(i, j, s.At(i, j)+float64(d.At(i)*d.At(j)))
			}
		}
	}
	var e mat.EigenSym
	if !e.Factorize(s, false) {
		return 0
	}
	return math.Sqrt(max(e.Values(nil)[0], 0) / float64(n-3))
}
