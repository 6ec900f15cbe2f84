package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// minus is the sign typesetters use; a hyphen is too short beside figures.
const minus = "−"

// fixed writes v with the given decimals and a true minus sign; a value that rounds to zero has no sign.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0.") == "" {
			return s[1:]
		}
		return minus + s[1:]
	}
	return s
}

// WithU returns "1.42 ± 0.08 mm", or "no value".
func WithU(x verdict.Value, unit string) string {
	if !x.OK {
		return "no value"
	}
	d := verdict.Decimals(x.U)
	if x.U > 0 {
		return fmt.Sprintf("%s ± %s %s", fixed(x.V, d), verdict.Uncertainty(x.U, d), unit)
	}
	return fixed(x.V, d) + " " + unit
}

// SignedWithU returns "+1.42 ± 0.08 mm", or "no value": for what stands proud or lies low.
func SignedWithU(x verdict.Value, unit string) string {
	said := WithU(x, unit)
	if value, _, _ := strings.Cut(said, " "); x.OK && !strings.HasPrefix(said, minus) && strings.Trim(value, "0.") != "" {
		said = "+" + said
	}
	return said
}

// Signed returns a value with its sign, "+1.42 mm".
func Signed(mm float64) string {
	s := fixed(mm, 2)
	if !strings.HasPrefix(s, minus) && strings.Trim(s, "0.") != "" {
		s = "+" + s
	}
	return s + " mm"
}

// MM returns a length with a number of decimals that suits its size.
func MM(mm float64) string {
	switch a := math.Abs(mm); {
	case a >= 100:
		return fixed(mm, 0) + " mm"
	case a >= 10:
		return fixed(mm, 1) + " mm"
	}
	return fixed(mm, 2) + " mm"
}

// limit returns a limit with two decimals or as many as it has, six at most: "0.40", "0.125".
func limit(v float64) string {
	const least, most = 2, 6
	s := fixed(v, most)
	for drop := most - least; drop > 0 && strings.HasSuffix(s, "0"); drop-- {
		s = s[:len(s)-1]
	}
	return s
}

// tenths returns a distance along a seam in mm, with one decimal where it has one.
func tenths(mm float64) string { return strings.TrimSuffix(fixed(mm, 1), ".0") }

// Spot returns a place in the reference's frame: "x 1624, y 12, z 350 mm".
func Spot(p geom.Vec) string {
	return fmt.Sprintf("x %s, y %s, z %s mm", fixed(p.X, 0), fixed(p.Y, 0), fixed(p.Z, 0))
}

// Percent returns a share, 0 to 1, as a percentage that never rounds up to 100 or down to 0.
func Percent(share float64) string {
	p := 100 * share
	switch {
	case p > 99.9 && p < 100:
		return "over 99.9 %"
	case p > 0 && p < 0.1:
		return "under 0.1 %"
	}
	return fixed(p, 1) + " %"
}

// Count returns a whole number in groups of three: "2 014 332", parted by narrow no-break spaces.
func Count(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}

// Size returns the sides of a part: "1850 × 620 × 1240 mm".
func Size(v geom.Vec) string {
	return fmt.Sprintf("%s × %s × %s mm", fixed(v.X, 0), fixed(v.Y, 0), fixed(v.Z, 0))
}

// Bytes returns a file size.
func Bytes(n int64) string {
	switch {
	case n >= 1e9:
		return fixed(float64(n)/1e9, 2) + " GB"
	case n >= 1e6:
		return fixed(float64(n)/1e6, 1) + " MB"
	case n >= 1e3:
		return fixed(float64(n)/1e3, 1) + " kB"
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

// Sigma returns the expanded uncertainty (k = 2) of a motion whose standard
// uncertainty is sigma: in mm, or in degrees for a turn (sigma in radians).
func Sigma(sigma float64, turn bool) string {
	if turn {
		return "± " + verdict.TwoDigits(2*sigma*180/math.Pi) + "°"
	}
	return "± " + verdict.TwoDigits(2*sigma) + " mm"
}
