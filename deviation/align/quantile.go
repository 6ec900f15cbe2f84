package align

import "shutline/mesh/order"

// quantile returns the value at share q of the values, whose order it changes; 0 for none.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	return order.Nth(values, min(int(q*float64(len(values))), len(values)-1))
}
