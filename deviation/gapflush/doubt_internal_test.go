package gapflush

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
)

// What a careful reader of the numbers would stumble over, and what he would not: a panel hung 3 mm off, a lamp that is meant to
// touch, a variant 2 mm wider than the drawing.
func TestNominalsOutOfProportionAreDoubted(t *testing.T) {
	off := func(half float64) verdict.Tolerance { return verdict.Tolerance{Lo: -half, Hi: half} }
	for name, c := range map[string]struct {
		nominal, measured float64
		reference         float64 // 0: none
		flush             bool
		tolerance         verdict.Tolerance
		doubted           bool
		says              string
	}{
		"40 for 4.0":                     {40, 3.98, 4, false, off(1), true, "The gap nominal of 40.00 mm is implausible beside what is measured, 3.98 mm in the median (the reference's own is 4.00 mm)"},
		"40 for 4.0, no reference":       {40, 3.98, 0, false, off(1), true, "3.98 mm in the median: is it typed"},
		"0.4 for 4.0":                    {0.4, 4.1, 0, false, off(1), true, "The gap nominal of 0.40 mm is implausible"},
		"10 for 4, beside the reference": {10, 4.6, 4, false, off(1), true, "The gap nominal of 10.00 mm"},
		"a flush of 15 for 1.5":          {15, 1.4, 0, true, off(0.75), true, "The flush nominal of 15.00 mm"},
		"a panel 3 mm off":               {4, 7, 4, false, off(1), false, ""},
		"a panel that nearly touches":    {4, 0.4, 4, false, off(1), false, ""},
		"a variant 2 mm wider":           {6, 4.2, 4, false, off(1), false, ""},
		"meant to touch":                 {0, 3, 0, false, off(1), false, ""},
		"a wing 6 mm proud":              {0, 6, 0, true, off(0.75), false, ""},
		"a tolerance of 10 for 1.0":      {4, 4.1, 4, false, off(10), false, "The tolerance of the gap, −10.00 to 10.00 mm about 4.00 mm, is implausible: panels that touch or overlap would conform."},
		"a flush tolerance of 7.5":       {0, 0.1, 0, true, off(7.5), false, "The tolerance of the flush, −7.50 to 7.50 mm about 0.00 mm, is implausible: nearly anything would conform."},
	} {
		j := &job{seam: DefaultSeam("s", nil), result: &Result{}}
		target := Target{Nominal: c.nominal, HasNominal: true, Tolerance: c.tolerance, Judged: true}
		ref := verdict.Value{V: c.reference, OK: c.reference != 0}
		for d := -1.0; d <= 1; d++ {
			v, n := verdict.Value{V: c.measured + 0.1*d, U: 0.05, OK: true}, verdict.Value{V: c.nominal, OK: true}
			s := Station{State: Measured, Gap: v, GapNominal: n}
			if c.flush {
				s = Station{State: Measured, Flush: v, FlushNominal: n}
			}
			j.result.Stations = append(j.result.Stations, s)
		}
		if c.flush {
			j.seam.Flush, j.refFlush = target, ref
		} else {
			j.seam.Gap, j.refGap = target, ref
		}
		j.result.Seam = j.seam
		j.doubtTyped()
		require.Equal(t, c.doubted, j.result.GapDoubt || j.result.FlushDoubt, name)
		require.Equal(t, c.doubted && c.flush, j.result.FlushDoubt, name)
		if c.says == "" {
			require.Empty(t, j.result.Notes, name)
			continue
		}
		require.Contains(t, strings.Join(j.result.Notes, " "), c.says, name)
	}
}

// A nominal that the reference or another seam gives is doubted as one that is typed: about measured 4.0003 mm, -4 mm lets panels touch.
func TestATolerancesDoubtIsOfAnyNominal(t *testing.T) {
	r := &Result{Seam: DefaultSeam("s", nil), Notes: []string{"kept"}}
	r.Seam.Gap = Target{Tolerance: verdict.Tolerance{Lo: -4, Hi: 4}, Judged: true}
	for range 3 {
		r.Stations = append(r.Stations, Station{State: Measured, GapNominal: verdict.Value{V: 4.0003, OK: true}})
	}
	r.DoubtTolerances()
	require.Len(t, r.Notes, 2)
	require.Contains(t, r.Notes[1], "−4.00 to 4.00 mm about 4.00 mm, is implausible: panels that touch or overlap would conform.")
	// Once the nominal is another seam's, what was said of the reference's no longer is.
	for k := range r.Stations {
		r.Stations[k].GapNominal = verdict.Value{V: 5, U: 0.1, OK: true}
	}
	r.DoubtTolerances()
	require.Equal(t, []string{"kept"}, r.Notes)
}
