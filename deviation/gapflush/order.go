package gapflush

import "shutline/mesh/order"

// median returns the middle of values, which it reorders; 0 for none.
func median(values []float64) float64 { return order.Median(values) }

// madSigma turns the median of absolute normal residuals into a standard deviation.
const madSigma = 1.4826

// robustSigma returns the scale of residuals that are centred on zero; it
// reorders abs, their absolute values. The factor 1 + 5/(n-p) is Rousseeuw and
// Leroy's (1987) for small samples with p fitted unknowns.
func robustSigma(abs []float64, unknowns int) float64 {
	s := madSigma * median(abs)
	if free := len(abs) - unknowns; free > 0 {
		return s * (1 + 1/float64(free))
	}
	return s
}
