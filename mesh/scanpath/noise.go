package scanpath

import (
	"math"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// sharedNoise returns noise of unit variance at a place whose correlation falls as exp(-d²/NoiseLength²) with
// the distance d along the sheet: white noise on a lattice of half that length, smoothed with exp(-d²/2) of its steps.
func sharedNoise(at Place, seed uint64, piece int) float64 {
	const (
		step  = NoiseLength / 2
		reach = 3 // steps; beyond, the kernel is under 0.012
	)
	x, y := at.U/step, at.V/step
	i0, j0 := math.Floor(x+0.5)-reach, math.Floor(y+0.5)-reach
	var wx, wy [2*reach + 1]float64
	for k := range wx {
		dx, dy := x-i0-float64(k), y-j0-float64(k)
		wx[k] = geom.Pow(euler, -float64(dx*dx)/2)
		wy[k] = geom.Pow(euler, -float64(dy*dy)/2)
	}
	sum, squares := 0.0, 0.0
	for i, a := range wx {
		for j, b := range wy {
			w := float64(a * b)
			r := bodywork.Keyed(seed^uint64(piece)<<56, uint64(at.Sheet)<<48^uint64(int64(i0)+int64(i)), uint64(int64(j0)+int64(j)))
			sum += float64(w * r.Uniform())
			squares += float64(w * w)
		}
	}
	// A uniform number on [-1, 1) has the variance 1/3.
	return sum * math.Sqrt(3/squares)
}
