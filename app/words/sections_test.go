package words_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/deviation/crosscut"
	"shutline/deviation/verdict"
)

// A section of which half a percent is 0.7 mm off lies within ±0.5 mm to 99.5 %, and to no 100 %.
func TestASectionThatLeavesItsToleranceIsNotAllInIt(t *testing.T) {
	s := &crosscut.Section{HasReference: true, Figures: crosscut.Figures{Measured: 400, Points: 400, Lowest: verdict.Value{V: -0.33}, Highest: verdict.Value{V: 0.73}, RMS: 0.24, InTolerance: 0.9952}}
	for share, want := range map[float64]string{0.9952: "99.5 % of it", 0.9999: "over 99.9 % of it", 1: "100.0 % of it"} {
		s.Figures.InTolerance = share
		require.Contains(t, found(words.Writer{}.Sections([]*crosscut.Section{s})), want)
	}
}
