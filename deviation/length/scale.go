package length

import (
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Scale is the one factor by which several known lengths are read too long.
type Scale struct {
	PPM     verdict.Value // the scan's scale error with U (k = 2); not OK without a known length that was measured
	Lengths int           // that tell it
	// Chi2 of the lengths about that one scale, DoF one fewer than there are, and the chance P of a larger one by chance;
	// DoF 0: one length cannot tell whether a scale is all.
	Chi2 float64
	DoF  int
	P    float64
	// Common says that one scale explains them all: P at least 5 %. False with DoF 0.
	Common bool
	// Left is what each length is off once the scale is taken out, mm, in the order given; 0 for one without a number.
	Left []float64
}

// leastChance is the chance below which one scale does not explain the lengths.
const leastChance = 0.05

// FindScale estimates the scale from lengths known to the world, mm at 20 °C, and as measured, each with U (k = 2):
// the weighted mean c = Σ w m L / Σ w L² of weights 1/u², and whether the residuals fit their
// uncertainties (chi-square). Where they do not, the mean is known as well as the lengths agree about it, and not as well as each of
// them was read: U grows by the root of chi-square over its degrees of freedom (Birge 1932) and is Student's t. Lengths that are not OK are left out. An uncertainty of nothing
// at all counts as a micrometre's.
func FindScale(known, measured []verdict.Value) Scale {
	s := Scale{Left: make([]float64, len(known))}
	const least = 1e-3
	u2 := func(k int) float64 {
		v := (float64(known[k].U*known[k].U) + float64(measured[k].U*measured[k].U)) / 4
		return max(v, least*least)
	}
	ml, ll := 0.0, 0.0
	for k := range known {
		if !known[k].OK || !measured[k].OK || !(known[k].V > 0) {
			continue
		}
		w := known[k].V / u2(k)
		ml += float64(w * (measured[k].V - known[k].V))
		ll += float64(w * known[k].V)
		s.Lengths++
	}
	if s.Lengths == 0 {
		return s
	}
	excess := ml / ll
	s.PPM = verdict.Value{V: 1e6 * excess, U: 2e6 / math.Sqrt(ll), OK: true}
	for k := range known {
		if !known[k].OK || !measured[k].OK || !(known[k].V > 0) {
			continue
		}
		s.Left[k] = measured[k].V - known[k].V - float64(excess*known[k].V)
		s.Chi2 += float64(s.Left[k]*s.Left[k]) / u2(k)
	}
	s.DoF = s.Lengths - 1
	s.P = chiSquareTail(s.Chi2, s.DoF)
	s.Common = s.DoF > 0 && s.P >= leastChance
	if s.DoF > 0 && !s.Common {
		s.PPM.U *= Coverage(twoSigma, s.DoF) / 2 * math.Sqrt(s.Chi2/float64(s.DoF))
	}
	return s
}

// chiSquareTail returns the chance that chi-square with whole degrees of freedom exceeds x; 1 for none
// (Abramowitz & Stegun 1964, 26.4.4 and 26.4.5).
func chiSquareTail(x float64, dof int) float64 {
	if !(x > 0) || dof < 1 {
		return 1
	}
	if dof%2 == 0 {
		term, sum := 1.0, 1.0
		for k := 2; k < dof; k += 2 {
			term = float64(term * float64(x/float64(k)))
			sum += term
		}
		return min(float64(sum*geom.Pow(euler, -x/2)), 1)
	}
	root := math.Sqrt(x)
	sum, term := 0.0, root
	for k := 1; k < dof; k += 2 {
		sum += term
		term = float64(term * float64(x/float64(k+2)))
	}
	density := geom.Pow(euler, -x/2) / math.Sqrt(2*math.Pi)
	return min(2*(normalTail(root)+float64(density*sum)), 1)
}

const euler = 2.718281828459045

// normalTail returns the chance that a standard normal variable exceeds x >= 0: a series near
// the middle, a continued fraction beyond (Abramowitz & Stegun 1964, 26.2.10 and 26.2.14).
func normalTail(x float64) float64 {
	density := geom.Pow(euler, -float64(x*x)/2) / math.Sqrt(2*math.Pi)
	if x < 3 {
		term, sum := x, x
		for k := 1.0; math.Abs(term) > 1e-18; k++ {
			term = float64(term * float64(float64(x*x)/float64(2*k+1)))
			sum += term
		}
		return max(0.5-float64(density*sum), 0)
	}
	f := 0.0
	for k := 60.0; k >= 1; k-- {
		f = k / (x + f)
	}
	return density / (x + f)
}
