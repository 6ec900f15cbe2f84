package pieces

import (
	"math"

	"shutline/mesh/geom"
)

const euler = 2.718281828459045

// exp returns e to the power x for x <= 0, the same on every processor.
func exp(x float64) float64 {
	if x < -700 {
		return 0
	}
	return geom.Pow(euler, x)
}

// ChiSquareTail returns the chance that a sum of squares of dof independent standard normal
// numbers exceeds x, for a whole dof from 1 to 340.
//
// Finite sums: Abramowitz & Stegun, "Handbook of Mathematical Functions" (1964), 26.4.4 and
// 26.4.5; the normal tail by the continued fraction 26.2.14 and the series 26.2.10.
func ChiSquareTail(x float64, dof int) float64 {
	if !(x > 0) || dof < 1 {
		return 1
	}
	half := x / 2
	if dof%2 == 0 {
		term, sum := 1.0, 1.0
		for k := 1; k < dof/2; k++ {
			term = float64(term * (half / float64(k)))
			sum += term
		}
		return min(1, exp(-half)*sum)
	}
	root := math.Sqrt(x)
	term, sum := 0.0, 0.0
	if dof > 1 {
		term, sum = root, root
	}
	for k := 3; k < dof; k += 2 {
		term = float64(term * (x / float64(k)))
		sum += term
	}
	return min(1, float64(2*normalTail(root))+float64(2*normalDensity(root)*sum))
}

// normalDensity returns the density of the standard normal distribution.
func normalDensity(z float64) float64 { return exp(-float64(z*z)/2) / math.Sqrt(2*math.Pi) }

// normalTail returns the chance that a standard normal number exceeds z.
func normalTail(z float64) float64 {
	if z < 0 {
		return 1 - normalTail(-z)
	}
	if z > 3 {
		const depth = 60
		f := z
		for k := depth; k >= 1; k-- {
			f = z + float64(k)/f
		}
		return normalDensity(z) / f
	}
	term, sum := z, z
	for k := 3.0; k < 200; k += 2 {
		term = float64(term * (float64(z*z) / k))
		if sum+term == sum {
			break
		}
		sum += term
	}
	return 0.5 - float64(normalDensity(z)*sum)
}

// fTail returns the chance that a ratio of variances with a and b degrees of freedom exceeds
// f, within a few thousandths for a and b over 5.
//
// Based on: Paulson, "An approximate normalization of the analysis of variance distribution",
// Annals of Mathematical Statistics 13 (1942).
func fTail(f, a, b float64) float64 {
	if !(f > 0) {
		return 1
	}
	root := geom.Pow(f, 1.0/3)
	va, vb := 2/(9*a), 2/(9*b)
	z := (float64((1-vb)*root) - (1 - va)) / math.Sqrt(float64(vb*root*root)+va)
	return normalTail(z)
}

// fCritical returns the ratio that fTail gives a chance for, by halving.
func fCritical(chance, a, b float64) float64 {
	lo, hi := 1.0, 1e6
	for range 100 {
		if mid := math.Sqrt(lo * hi); fTail(mid, a, b) > chance {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
