package ui

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"

	"shutline/deviation/verdict"
)

// Numbers as people type them: with a decimal point or comma, with any of the
// usual minus signs. Two numbers may be parted by a space, an ellipsis (typed or
// set), "to", a semicolon, a slash, a comma before a space, or a dash between spaces.
var (
	typedNumber = `([+\-−–]?\s?(?:\d+(?:[.,]\d*)?|[.,]\d+))`
	typedParted = `\s*(?:…|\.{2,3}|;|/|\bto\b|,\s|\s[-–—]\s|\s)\s*`
	oneNumber   = regexp.MustCompile(`^` + typedNumber + `$`)
	bothWays    = regexp.MustCompile(`^(?:±|\+\s?/?\s?[-−–])\s*(\d+(?:[.,]\d*)?|[.,]\d+)$`)
	twoNumbers  = regexp.MustCompile(`^(` + typedNumber[1:] + typedParted + typedNumber + `$`)
)

// typed takes away what may stand around a number: spaces, brackets and the unit.
func typed(s string) string {
	s = strings.TrimSpace(s)
	s = strings.TrimSpace(strings.TrimSuffix(s, "mm"))
	if strings.HasPrefix(s, "[") && strings.HasSuffix(s, "]") {
		s = strings.TrimSpace(s[1 : len(s)-1])
	}
	return s
}

// parseNumber reads a number as people type it.
func parseNumber(s string) (float64, bool) {
	m := oneNumber.FindStringSubmatch(typed(s))
	if m == nil {
		return 0, false
	}
	return value(m[1])
}

// value returns the number of a text that has the form of one.
func value(s string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.NewReplacer("−", "-", "–", "-", ",", ".", " ", "", "+", "").Replace(s), 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v)
}

// parseTwo reads two numbers.
func parseTwo(s string) (a, b float64, ok bool) {
	m := twoNumbers.FindStringSubmatch(typed(s))
	if m == nil {
		return 0, 0, false
	}
	a, okA := value(m[1])
	b, okB := value(m[2])
	return a, b, okA && okB
}

// errBand says what a tolerance may look like.
func errBand() error {
	return errors.New(tr("field.band", "This is no tolerance. Write the two limits, the lower one first, as in -0.5 … 0.5, or one number for both ways, as in ± 0.5."))
}

// parseBand reads a tolerance: two limits, the lower one first, or one number for both ways.
func parseBand(s string) (verdict.Tolerance, error) {
	one, isOne := parseNumber(s)
	if m := bothWays.FindStringSubmatch(typed(s)); m != nil {
		one, isOne = value(m[1])
	}
	lo, hi, isTwo := parseTwo(s)
	switch {
	case isOne && one > 0:
		return verdict.Tolerance{Lo: -one, Hi: one}, nil
	case isTwo && lo < hi:
		return verdict.Tolerance{Lo: lo, Hi: hi}, nil
	}
	return verdict.Tolerance{}, errBand()
}

// number writes a setting as it can be typed: without an exponent, and with every digit that was, or a limit that nobody
// touched would change with the other one.
func number(v float64) string { return figures(strconv.FormatFloat(v, 'f', -1, 64)) }

// percent and ofPercent turn a share into per cent and back in decimals: the share typed as 94.9 % is 0.949, as an inspection
// file says it, which its hundredth in binary is not.
func percent(share float64) float64 { return timesTen(share, "e2") }

func ofPercent(v float64) float64 { return timesTen(v, "e-2") }

func timesTen(v float64, exponent string) float64 {
	out, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'f', -1, 64)+exponent, 64)
	return out
}

// bandText writes a tolerance as parseBand reads it.
func bandText(t verdict.Tolerance) string { return number(t.Lo) + " … " + number(t.Hi) }
