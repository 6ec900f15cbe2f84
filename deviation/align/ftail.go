package align

import (
	"math"

	"shutline/mesh/geom"
)

// fTail returns the chance that a variable that follows F with a and b degrees of
// freedom, whole numbers over 0, exceeds f.
//
// It is the incomplete beta function I_x(b/2, a/2) at x = b/(b + a f), by the
// continued fraction of Abramowitz & Stegun, "Handbook of Mathematical Functions"
// (1964), 26.5.8, evaluated by the method of Lentz (1976).
func fTail(f, a, b float64) float64 {
	if !(f > 0) {
		return 1
	}
	return incompleteBeta(b/(b+float64(a*f)), b/2, a/2)
}

func incompleteBeta(x, a, b float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	case x > (a+1)/(a+b+2): // where the other side's fraction is the one that converges
		return 1 - incompleteBeta(1-x, b, a)
	}
	return geom.Pow(x, a) * geom.Pow(1-x, b) / (a * betaOf(a, b)) * betaFraction(x, a, b)
}

func betaFraction(x, a, b float64) float64 {
	const (
		tiny = 1e-300
		most = 500
		end  = 1e-14
	)
	c, d := 1.0, 1-float64((a+b)*x/(a+1))
	if math.Abs(d) < tiny {
		d = tiny
	}
	d = 1 / d
	h := d
	for k := 1.0; k < most; k++ {
		even := k * (b - k) * x / ((a + 2*k - 1) * (a + 2*k))
		odd := -(a + k) * (a + b + k) * x / ((a + 2*k) * (a + 2*k + 1))
		change := 1.0
		for _, t := range [2]float64{even, odd} {
			if d = 1 + float64(t*d); math.Abs(d) < tiny {
				d = tiny
			}
			if c = 1 + t/c; math.Abs(c) < tiny {
				c = tiny
			}
			d = 1 / d
			change = c * d
			h *= change
		}
		if math.Abs(change-1) < end {
			break
		}
	}
	return h
}

// betaOf returns the beta function of half-whole numbers, by
// B(a+1, b) = B(a, b) a/(a+b) from B(½,½) = π, B(½,1) = 2 and B(1,1) = 1.
func betaOf(a, b float64) float64 {
	v := 1.0
	for ; a > 1; a-- {
		v *= (a - 1) / (a - 1 + b)
	}
	for ; b > 1; b-- {
		v *= (b - 1) / (b - 1 + a)
	}
	switch {
	case a == 1 && b == 1:
		return v
	case a == 1 || b == 1:
		return 2 * v
	}
	return math.Pi * v
}
