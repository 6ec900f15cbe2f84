package crosscut

import (
	"math"

	"shutline/mesh/geom"
)

// basis are columns of unit length, square to one another: what a fit of a run of places can take up.
type basis [][]float64

// add takes a column in, as far as the others do not hold it (Gram and Schmidt), and returns how much of it that is: 0 where it is
// nothing and the column is left out.
func (b *basis) add(n int, at func(k int) float64) float64 {
	v := make([]float64, n)
	whole := 0.0
	for k := range v {
		v[k] = at(k)
		whole += float64(v[k] * v[k])
	}
	for _, c := range *b {
		d := dot(c, v)
		for k := range v {
			v[k] -= float64(d * c[k])
		}
	}
	size := dot(v, v)
	if !(size > float64(1e-6*whole)) {
		return 0
	}
	size = math.Sqrt(size)
	for k := range v {
		v[k] /= size
	}
	*b = append(*b, v)
	return size
}

func dot(a, b []float64) (sum float64) {
	for k := range a {
		sum += float64(a[k] * b[k])
	}
	return sum
}

// longWaves is the mean square, of a place, of what is left of a fit in long waves along the run that the fit cannot take
// up, of how many numbers low is the mean, and of the rest; whole is the sum of squares of what is left.
func (b basis) longWaves(off []float64, whole float64) (low, high float64, of int) {
	n, fit := len(off), len(b)
	for w := 1; w <= waves && len(b) < n/2; w++ {
		b.add(n, func(k int) float64 {
			_, cos := geom.Sincos(math.Pi * float64(w) * (float64(k) + 0.5) / float64(n))
			return cos
		})
	}
	sum := 0.0
	for _, c := range b[fit:] {
		d := dot(c, off)
		sum += float64(d * d)
	}
	of = len(b) - fit
	return sum / max(1, float64(of)), max(0, whole-sum) / max(1, float64(n-len(b))), of
}

// allowed is by how much a sum of squares of n places may exceed the least, of a fit of so many numbers, once in 20 times by chance
// for each of them: the scatter of the places, that neighbours share, or what is left in long waves, whichever is more, each by
// Student's t for what it is known from.
func allowed(left float64, n, numbers int, low float64, of int) float64 {
	variance := max(float64(shared*shared*left)/float64(max(1, n-numbers)), leastScatter*leastScatter)
	t, w := student(float64(float64(n-numbers)/(shared*shared))), student(float64(of))
	return max(float64(float64(t*t)*variance), float64(float64(w*w)*low))
}
