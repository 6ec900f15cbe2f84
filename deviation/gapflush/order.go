package gapflush

import (
	"slices"

	"shutline/mesh/order"
)

// median returns the middle of values, which it reorders; 0 for none.
func median(values []float64) float64 { return order.Median(values) }

// madSigma turns the median of absolute normal residuals into a standard deviation.
const madSigma = 1.4826

// robustSigma returns the scale of residuals that are centred on zero; it
// reorders abs, their absolute values. The factor 1 + 5/(n-p) is Rousseeuw and
// Leroy's (1987) for small samples with p fitted unknowns.
func robustSigma(abs []float64, unknowns int) float64 { return sigmaOf(median(abs), abs, unknowns) }

// robustSigmaNear is robustSigma where the scale is expected near one that is known, which is sooner found.
func robustSigmaNear(abs []float64, unknowns int, near float64) float64 {
	return sigmaOf(medianNear(abs, near/madSigma), abs, unknowns)
}

// medianNear is median for values whose middle is expected near one.
func medianNear(values []float64, near float64) float64 {
	const room, most = 0.15, 128
	lo, hi := near*(1-room), near*(1+room)
	var kept [most]float64
	below, n := 0, 0
	for _, v := range values {
		if v < lo {
			below++
		}
		if v >= lo && v <= hi {
			if n == most {
				return median(values)
			}
			kept[n] = v
			n++
		}
	}
	k := len(values)/2 - below
	if len(values) < 2 || k < 1 || k >= n {
		return median(values)
	}
	upper := order.Nth(kept[:n], k)
	if len(values)%2 == 1 {
		return upper
	}
	// Nth leaves nothing larger before it.
	return (slices.Max(kept[:k]) + upper) / 2
}

func sigmaOf(middle float64, abs []float64, unknowns int) float64 {
	s := madSigma * middle
	if free := len(abs) - unknowns; free > 0 {
		return s * (1 + 1/float64(free))
	}
	return s
}
