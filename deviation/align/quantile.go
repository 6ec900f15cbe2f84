package align

import (
	"math/bits"
	"slices"
)

// quantile returns the value at share q of the values, whose order it changes; 0 for none.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	k := min(int(q*float64(len(values))), len(values)-1)
	selectNth(values, k)
	return values[k]
}

// selectNth puts the value that would be at place k of the ascending order there, lesser ones before and greater ones behind.
//
// Based on: Hoare, "Algorithm 65: find" (1961), and Musser, "Introspective sorting and selection algorithms" (1997): values
// so arranged that the parts hardly shrink are sorted.
func selectNth(values []float64, k int) {
	lo, hi := 0, len(values)-1
	for left := 3 * bits.Len(uint(len(values))); hi > lo; left-- {
		if left == 0 {
			slices.Sort(values[lo : hi+1])
			return
		}
		pivot := middleOf(values[lo], values[lo+(hi-lo)/2], values[hi])
		i, j := lo, hi
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for values[j] > pivot {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
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
			return
		}
	}
}

func middleOf(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }
