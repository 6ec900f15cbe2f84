package length

import (
	"math"

	"shutline/mesh/geom"
)

// Line is one contribution to an uncertainty: a standard uncertainty of the result, mm, and its degrees of freedom, 0 for
// one that is known without end.
type Line struct {
	Source string
	U      float64
	DoF    float64
}

// Combined returns the combined standard uncertainty of independent contributions and its effective
// degrees of freedom (Welch-Satterthwaite; JCGM 100:2008, G.4.1), infinite where all are known without end.
func Combined(lines []Line) (u, dof float64) {
	sum, fourth := 0.0, 0.0
	for _, l := range lines {
		v := float64(l.U * l.U)
		sum += v
		if l.DoF > 0 {
			fourth += float64(v*v) / l.DoF
		}
	}
	u, dof = math.Sqrt(sum), math.Inf(1)
	if fourth > 0 {
		dof = float64(sum*sum) / fourth
	}
	return u, dof
}

// Coverage returns the factor k by which a standard uncertainty of whole degrees of freedom, at least 1, is
// multiplied so that an interval of ±k holds a share p of Student's t, 0 < p < 1.
func Coverage(p float64, dof int) float64 {
	lo, hi := 0.0, 1.0
	for within(hi, dof) < p && hi < 1e6 {
		hi *= 2
	}
	const halvings = 60
	for range halvings {
		if k := (lo + hi) / 2; within(k, dof) < p {
			lo = k
		} else {
			hi = k
		}
	}
	return (lo + hi) / 2
}

// within returns the share of Student's t with whole degrees of freedom within ±t
// (Abramowitz & Stegun, "Handbook of Mathematical Functions", 1964, 26.7.3 and 26.7.4).
func within(t float64, dof int) float64 {
	n := float64(dof)
	theta := geom.Atan(t / math.Sqrt(n))
	sin, cos := geom.Sincos(theta)
	if dof == 1 {
		return 2 * theta / math.Pi
	}
	cos2 := float64(cos * cos)
	if dof%2 == 1 {
		term, sum := cos, cos
		for k := 3; k < dof; k += 2 {
			term = float64(term * float64(float64(cos2*float64(k-1))/float64(k)))
			sum += term
		}
		return 2 / math.Pi * (theta + float64(sin*sum))
	}
	term, sum := 1.0, 1.0
	for k := 2; k < dof; k += 2 {
		term = float64(term * float64(float64(cos2*float64(k-1))/float64(k)))
		sum += term
	}
	return float64(sin * sum)
}
