package verdict

import (
	"math"
	"strconv"
	"strings"
)

// mostDecimals of a millimetre or a degree are written: what is known better is said to be under the last of them.
const mostDecimals = 6

// Decimals returns how many decimals a value with the uncertainty u is written with: two, as on charts; fewer where u
// would be given to more than two significant digits (GUM 7.2.6), and more where none of them would be left of it.
func Decimals(u float64) int {
	const usual = 2
	if !(u > 0) || math.IsInf(u, 0) {
		return usual
	}
	d := usual
	for d > 0 && math.Round(u*math.Pow10(d)) >= 100 {
		d--
	}
	for d < mostDecimals && u*math.Pow10(d) < 1 {
		d++
	}
	return d
}

// Uncertainty writes u with so many decimals, and never as zero: "0.08", "< 0.000001".
func Uncertainty(u float64, decimals int) string {
	s := strconv.FormatFloat(u, 'f', decimals, 64)
	if u > 0 && strings.Trim(s, "0.") == "" {
		return "< " + strconv.FormatFloat(math.Pow10(-decimals), 'f', decimals, 64)
	}
	return s
}

// TwoDigits writes an uncertainty that stands without its value to two significant digits: "0.057", "1.2".
func TwoDigits(u float64) string {
	d := 0
	for d < mostDecimals && math.Round(u*math.Pow10(d)) < 10 {
		d++
	}
	return Uncertainty(u, d)
}
