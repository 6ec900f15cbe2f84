package deviation

import "math"

// Chance sets the differences that are larger than their U beside those that would be where nothing has changed: an expanded
// uncertainty (k = 2) holds 95 % of errors, so that of many differences of nothing one in twenty leaves it.
type Chance struct {
	Of, Changed int     // differences that were compared, and those larger than their U
	Expected    float64 // of Of, where nothing has changed
	P           float64 // the probability that chance alone makes at least Changed of Of so, 0 to 1
}

const (
	// outsideU is the share of errors that lie outside an expanded uncertainty (GUM, 6.3.3: k = 2, about 95 %).
	outsideU = 0.05
	// rareChance is the probability under which chance is said not to explain what was found: 1 % and not 5, as
	// several seams and both gap and flush are looked at, one of which would fall under 5 % sooner or later.
	rareChance = 0.01
)

// ByChance weighs how many of so many differences leave their U. The differences count as independent of one another; what
// stations have in common makes more of them leave it together, and oftener none.
func ByChance(of, changed int) Chance {
	c := Chance{Of: of, Changed: changed, Expected: outsideU * float64(of), P: 1}
	if of <= 0 || changed <= 0 {
		return c
	}
	// The binomial distribution by the ratios of neighbouring terms, from the largest on, so that none is too small to hold.
	mode := min(int(math.Floor(float64(of+1)*outsideU)), of)
	all, tail := 0.0, 0.0
	add := func(k int, term float64) {
		all += term
		if k >= changed {
			tail += term
		}
	}
	for k, term := mode, 1.0; k <= of && term > 0; k++ {
		add(k, term)
		term = float64(term * float64(of-k) / float64(k+1) * (outsideU / (1 - outsideU)))
	}
	for k, term := mode-1, 1.0; k >= 0; k-- {
		term = float64(term * float64(k+1) / float64(of-k) * ((1 - outsideU) / outsideU))
		if term == 0 {
			break
		}
		add(k, term)
	}
	c.P = min(tail/all, 1)
	return c
}

// Explains reports whether chance explains what was found.
func (c Chance) Explains() bool { return c.P >= rareChance }
