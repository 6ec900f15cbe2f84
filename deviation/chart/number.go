package chart

import (
	"math"
	"strconv"
	"strings"

	"shutline/deviation/verdict"
)

// number writes v with a true minus sign and no negative zero.
func number(v float64, decimals int) string {
	t := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(t, "-0.") == "" {
		t = strings.TrimPrefix(t, "-")
	}
	return strings.Replace(t, "-", "−", 1)
}

// signed is number with a plus sign before what is positive.
func signed(v float64, decimals int) string {
	t := number(v, decimals)
	if v > 0 && strings.Trim(t, "0.") != "" {
		return "+" + t
	}
	return t
}

// withU writes a value with its expanded uncertainty, both in mm.
func withU(v verdict.Value, plus bool) string {
	if !v.OK {
		return "no value"
	}
	d := verdict.Decimals(v.U)
	t := number(v.V, d)
	if plus {
		t = signed(v.V, d)
	}
	if v.U > 0 {
		t += " ± " + verdict.Uncertainty(v.U, d)
	}
	return t
}

// ticks returns round values from lo to hi, at most the given number, and the decimals they need.
func ticks(lo, hi float64, most int) (values []float64, places int) {
	if !(hi > lo) || math.IsInf(hi-lo, 0) || most < 1 {
		return nil, 0
	}
	step := niceStep((hi - lo) / float64(most))
	places = max(0, -decade(step*(1+1e-9)))
	for i := math.Ceil(lo/step - 1e-9); float64(i*step) <= hi+float64(1e-9*step); i++ {
		values = append(values, i*step)
	}
	return values, places
}

// ticksThatFit is ticks with a finer step where fewer than two of the values can
// be labelled, as one label gives no scale; apart is the least that two values may
// differ by for their labels to stand apart.
func ticksThatFit(lo, hi float64, most int, apart float64, fits func(float64) bool) (values []float64, places int) {
	values, places = ticks(lo, hi, most)
	for n := most; n <= 2*most+1; n++ {
		finer, p := ticks(lo, hi, n)
		if len(finer) > 1 && finer[1]-finer[0] < apart {
			break
		}
		values, places = finer, p
		labels := 0
		for _, v := range values {
			if fits(v) {
				labels++
			}
		}
		if labels >= 2 {
			break
		}
	}
	return values, places
}

// count returns a whole number in groups of three, parted by no-break spaces.
func count(n int) string {
	t := strconv.Itoa(n)
	for i := len(t) - 3; i > 0 && t[i-1] != '-'; i -= 3 {
		t = t[:i] + "\u00a0" + t[i:]
	}
	return t
}

// decade returns the power of ten that v > 0 begins with: 2 for 250, -1 for 0.3.
// The digits that v is written with know it exactly, where a logarithm rounds.
func decade(v float64) int {
	text := strconv.FormatFloat(v, 'e', -1, 64)
	power, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:]) // of what is not finite, 0
	return power
}

// niceStep returns the smallest of 1, 2, 5 times a power of ten that is at least v.
func niceStep(v float64) float64 {
	power := math.Pow10(decade(v))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= v*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}
