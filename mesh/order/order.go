// Package order finds the middle of values without sorting them: about 2n
// comparisons on average (Hoare 1961).
package order

import (
	"math/bits"
	"slices"
)

// Median returns the middle of values, which it reorders, the mean of the middle two
// of an even number of them; 0 for none.
func Median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return 0
	}
	hi := Nth(values, n/2)
	if n%2 == 1 {
		return hi
	}
	// Nth leaves nothing larger before it.
	return (slices.Max(values[:n/2]) + hi) / 2
}

// Nth returns the value that sorting would put at k, which it brings there with
// nothing larger before it (Hoare 1961). Values so arranged that what is left hardly shrinks are sorted (Musser 1997).
func Nth(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for left := 3 * bits.Len(uint(len(v))); lo < hi; left-- {
		if left == 0 {
			slices.Sort(v[lo : hi+1])
			break
		}
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
