package gapflush

import "slices"

// median returns the middle of values, which it reorders; 0 for none.
func median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return 0
	}
	hi := nth(values, n/2)
	if n%2 == 1 {
		return hi
	}
	// nth leaves nothing larger before it.
	return (slices.Max(values[:n/2]) + hi) / 2
}

// nth returns the value that sorting would put at k, which it brings there with
// nothing larger before it (Hoare 1961).
func nth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		mid := v[lo+(hi-lo)/2]
		if a, b := v[lo], v[hi]; (a < b) == (mid < a) {
			mid = a
		} else if (a < b) != (mid < b) {
			mid = b
		}
		i, j := lo, hi
		for i <= j {
			for v[i] < mid {
				i++
			}
			for mid < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}

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
