package verdict_test

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
)

func TestDigitsOfAnUncertainty(t *testing.T) {
	for _, c := range []struct {
		u        float64
		decimals int
		with     string // its value
		alone    string
	}{
		{0.08, 2, "0.08", "0.080"}, {0.124, 2, "0.12", "0.12"}, {0.996, 1, "1.0", "1.0"}, {1.26, 1, "1.3", "1.3"}, {12.6, 0, "13", "13"}, {9.96, 0, "10", "10"},
		{0.0099, 3, "0.010", "0.010"}, {0.004, 3, "0.004", "0.0040"}, {0.00042, 4, "0.0004", "0.00042"}, {0.00001234, 5, "0.00001", "0.000012"},
		{0.0000004, 6, "< 0.000001", "< 0.000001"}, {1e-300, 6, "< 0.000001", "< 0.000001"},
	} {
		require.Equal(t, c.decimals, verdict.Decimals(c.u), "%g", c.u)
		require.Equal(t, c.with, verdict.Uncertainty(c.u, verdict.Decimals(c.u)), "%g", c.u)
		require.Equal(t, c.alone, verdict.TwoDigits(c.u), "%g", c.u)
	}
	require.Equal(t, 2, verdict.Decimals(0))
	require.Equal(t, 2, verdict.Decimals(math.Inf(1)))
	require.Equal(t, 2, verdict.Decimals(math.NaN()))
}

// Of every size an uncertainty is written with one or two significant digits, close to what it is.
func TestNoUncertaintyIsWrittenAsZero(t *testing.T) {
	significant := regexp.MustCompile(`[1-9][0-9]*$`)
	for u := 1.1e-6; u < 99; u *= 1.0103 {
		for _, s := range []string{verdict.Uncertainty(u, verdict.Decimals(u)), verdict.TwoDigits(u)} {
			digits := significant.FindString(strings.Replace(s, ".", "", 1))
			require.NotEmpty(t, digits, "%g: %s", u, s)
			require.LessOrEqual(t, len(digits), 2, "%g: %s", u, s)
			read, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			require.InEpsilon(t, u, read, 0.5, "%g: %s", u, s)
		}
	}
}
