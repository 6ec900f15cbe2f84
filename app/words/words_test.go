package words_test

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// seam is 12 stations of 25 mm; the caller sets what is found.
func seam(name string, set func(k int, s *gapflush.Station)) *gapflush.Result {
	spec := gapflush.DefaultSeam(name, nil)
	spec.Master = gapflush.B
	spec.Gap = gapflush.Target{Nominal: 4, HasNominal: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true}
	spec.Flush = gapflush.Target{HasNominal: true, Tolerance: verdict.Tolerance{Lo: -0.75, Hi: 0.75}, Judged: true}
	r := &gapflush.Result{Seam: spec}
	for k := range 12 {
		s := gapflush.Station{Index: k + 1, Along: 12.5 + 25*float64(k), State: gapflush.Measured,
			Gap: verdict.Value{V: 4, U: 0.08, OK: true}, Flush: verdict.Value{V: 0, U: 0.05, OK: true},
			GapNominal: verdict.Value{V: 4, OK: true}, FlushNominal: verdict.Value{OK: true}}
		set(k, &s)
		s.GapVerdict = verdict.Decide(verdict.Value{V: s.Gap.V - 4, U: s.Gap.U, OK: s.Gap.OK}, spec.Gap.Tolerance)
		s.FlushVerdict = verdict.Decide(verdict.Value{V: s.Flush.V - s.FlushNominal.V, U: s.Flush.U, OK: s.Flush.OK}, spec.Flush.Tolerance)
		r.Verdict = verdict.Worst(r.Verdict, s.GapVerdict, s.FlushVerdict)
		if s.Gap.OK {
			r.Measured++
		}
		r.Stations = append(r.Stations, s)
	}
	return r
}

func found(c words.Card) string {
	var lines []string
	for _, s := range c.Found {
		lines = append(lines, s.Text)
	}
	return strings.Join(lines, "\n")
}

func TestFlushHasItsSign(t *testing.T) {
	for said, x := range map[string]verdict.Value{
		"+0.02 ± 0.07 mm": {V: 0.021, U: 0.07, OK: true},
		"−0.30 ± 0.05 mm": {V: -0.3, U: 0.05, OK: true},
		"0.00 ± 0.05 mm":  {V: 0.001, U: 0.05, OK: true},
		"no value":        {},
	} {
		require.Equal(t, said, words.SignedWithU(x, "mm"))
	}
}

func TestASeamIsToldAsAColleagueWould(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) {
		s.Gap.V = 4.6 - 0.15*float64(k)
		if k >= 8 {
			s.Flush.V = 1 + 0.1*float64(k-8)
		}
	})
	c := words.Writer{}.Seam(3, r)
	require.Equal(t, verdict.DoesNotConform, c.Verdict)
	require.Equal(t, "4 of 12 stations are out of tolerance", c.Headline)
	said := found(c)
	require.Contains(t, said, "The wing (side A) stands up to 1.30 ± 0.05 mm proud of the door (side B) at stations 9 to 12 (200 to 300 mm along the seam; wanted 0.00 mm).")
	require.Contains(t, said, "The gap closes from 4.60 ± 0.08 mm at station 1 (12.5 mm along) to 2.95 ± 0.08 mm at station 12 (287.5 mm).")
	require.Equal(t, &words.Place{Seam: 3, Station: 11}, c.Found[0].Where, "a click shows the worst place")
	require.NotEmpty(t, c.Next)
}

// A flush of 0.00 mm where +1.60 mm is wanted is 1.60 mm too low, and not "0.00 mm below".
func TestAFlushIsToldAgainstWhatIsWanted(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) {
		if k == 3 {
			s.Flush, s.FlushNominal = verdict.Value{V: 0, U: 0.05, OK: true}, verdict.Value{V: 1.6, OK: true}
			s.FlushVerdict = verdict.DoesNotConform
		}
	})
	require.Contains(t, found(words.Writer{}.Seam(0, r)), "The wing (side A) sits up to 1.60 ± 0.05 mm too low beside the door (side B) at station 4 (75 to 100 mm along the seam; flush 0.00 ± 0.05 mm, wanted +1.60 mm).")
}

func TestLowAndNarrowAreNamedByTheirSign(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) {
		if k == 3 {
			s.Flush.V, s.Gap.V = -1.4, 2.5
		}
	})
	said := found(words.Writer{}.Seam(0, r))
	require.Contains(t, said, "The wing (side A) sits up to 1.40 ± 0.05 mm below the door (side B) at station 4 (75 to 100 mm")
	require.Contains(t, said, "The gap is too narrow at station 4 (75 to 100 mm along the seam): down to 2.50 ± 0.08 mm where 4.00 mm is wanted.")
}

func TestAnEvenGapIsNotToldToRun(t *testing.T) {
	// The ends differ by less than their uncertainties together: no course may be claimed.
	r := seam("a seam", func(k int, s *gapflush.Station) { s.Gap.V = 4 + 0.01*float64(k) })
	said := found(words.Writer{}.Seam(0, r))
	require.NotContains(t, said, "opens")
	require.Contains(t, said, "as far as this scan can tell")
	require.Equal(t, [2]string{"side A", "side B"}, words.Writer{}.Panels(r.Seam))
	for whole, want := range map[string][2]string{"pillar": {"side A", "side B"}, "wing to door": {"the wing (side A)", "the door (side B)"}} {
		stretch := gapflush.Seam{Name: whole + ", 0 to 300 mm", Whole: whole}
		require.Equal(t, want, words.Writer{}.Panels(stretch), stretch.Name)
	}
}

func TestWhatHasNoNumberGetsNone(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) {
		s.State, s.Gap, s.Flush = gapflush.Bridged, verdict.Value{}, verdict.Value{}
	})
	c := words.Writer{}.Seam(0, r)
	require.Equal(t, verdict.Undecided, c.Verdict)
	said := found(c)
	require.Contains(t, said, "No station of this seam gave a gap.")
	require.Contains(t, said, "No gap at stations 1 to 12: the scan runs across the gap without a break.")
	require.NotContains(t, said, "0.00", "no number is made up")
	require.Equal(t, []string{"No gap: the scan runs across the gap without a break"}, words.Writer{}.Station(r, &r.Stations[0]))
}

func TestEveryStateHasWords(t *testing.T) {
	for _, s := range []gapflush.State{gapflush.Measured, gapflush.NoseUnseen, gapflush.SideMissing, gapflush.Bridged, gapflush.TwoSkins,
		gapflush.NoFace, gapflush.TooCoarse, gapflush.ThirdPanel, gapflush.NotParallel, gapflush.OffPath} {
		if s != gapflush.Measured {
			require.NotEqual(t, string(s), words.Writer{}.StationState(s))
		}
	}
}

func TestAFreeMotionHasNoNumber(t *testing.T) {
	p := &app.Placed{Placement: align.Placement{Method: "best-fit", RMSKnown: true, RMS: 0.05, PointsUsed: 1000, ShareUsed: 0.9,
		Sigma: [6]float64{0, 0.01, 0.02, 1e-5, 1e-5, 1e-5}, Free: [6]bool{true}}}
	c := words.Writer{}.Place(p)
	require.Equal(t, verdict.Undecided, c.Verdict)
	said := found(c)
	require.Contains(t, said, "The shift along x is not held by the surface: there is no number for it")
	require.Contains(t, said, "Of the shifts that are held the shift along z is the least sure: ± 0.040 mm (k = 2).")
}

func TestEqualShiftsHaveNoLeastSure(t *testing.T) {
	p := &app.Placed{Placement: align.Placement{Method: "best-fit", RMSKnown: true, RMS: 0.05, PointsUsed: 1000, ShareUsed: 0.9,
		Sigma: [6]float64{0.0195, 0.0198, 0.02, 1e-5, 1e-5, 1e-5}}}
	said := found(words.Writer{}.Place(p))
	require.Contains(t, said, "The shifts are known to ± 0.040 mm (k = 2).")
	require.NotContains(t, said, "Least sure")
	p.Placement.Sigma[0] = 0.0185
	require.Contains(t, found(words.Writer{}.Place(p)), "Least sure of the shifts is the shift along z")
}

func TestASurfaceWithoutPointsIsSaidSo(t *testing.T) {
	o := &app.Outcome{Inspection: &inspection.Inspection{}, Compared: &app.Compared{Field: &deviation.Field{}}}
	c := words.Writer{}.Surface(o)
	require.Equal(t, "No point of the scan could be compared", c.Headline)
	require.NotContains(t, found(c), "RMS")
}

func TestNumbers(t *testing.T) {
	require.Equal(t, "1.40 ± 0.08 mm", words.WithU(verdict.Value{V: 1.4, U: 0.08, OK: true}, "mm"))
	require.Equal(t, "0.004 ± 0.009 mm", words.WithU(verdict.Value{V: 0.004, U: 0.009, OK: true}, "mm"))
	require.Equal(t, "no value", words.WithU(verdict.Value{V: 3}, "mm"))
	require.Equal(t, "−0.50 mm", words.Signed(-0.5))
	require.Equal(t, "+0.50 mm", words.Signed(0.5))
	require.Equal(t, "0.00 mm", words.Signed(-0.001), "no signed zero")
	require.Equal(t, "over 99.9 %", words.Percent(0.99999))
	require.Equal(t, "under 0.1 %", words.Percent(0.00001))
	require.Equal(t, "100.0 %", words.Percent(1))
	require.Equal(t, "2\u202f014\u202f332", words.Count(2014332))
	require.Equal(t, "999", words.Count(999))
}

func TestTheLanguageCanBeAnother(t *testing.T) {
	w := words.Writer{Translate: func(key, fallback string, data map[string]any) string { return key }}
	require.Equal(t, "seam.good", w.Seam(0, seam("a to b", func(int, *gapflush.Station) {})).Headline)
	require.Len(t, w.Cautions(), 3)
}

// A cloud of points has no areas: its figures count every point once, and say so.
func TestACloudIsToldByPoints(t *testing.T) {
	cmp := &app.Compared{Field: &deviation.Field{Covered: 0.9}}
	cmp.Summary.Unweighted = deviation.Figures{OK: true, RMS: 0.02, ShareInTolerance: 0.75}
	cmp.Summary.Count[deviation.Measured], cmp.Summary.Count[deviation.FacingAway] = 50, 50
	c := words.Writer{}.Surface(&app.Outcome{Inspection: &inspection.Inspection{}, Compared: cmp})
	require.Contains(t, c.Headline, "75.0 % of the measured points")
	require.Contains(t, found(c), "every point counts once")
	require.Contains(t, found(c), "turned over")
}

func TestChecksSayWhatIsAllowed(t *testing.T) {
	list := []app.SeamCheck{
		{Seam: "wing to door", Kind: "step of gap", Unit: "mm", Value: verdict.Value{V: 0.12, U: 0.05, OK: true}, Limit: verdict.Tolerance{Lo: math.Inf(-1), Hi: 0.125}, From: 25, To: 50, Verdict: verdict.Undecided},
		{Seam: "wing to door", Kind: "taper over 300 mm", Unit: "mm per 100 mm", Limit: verdict.Tolerance{Lo: -0.3, Hi: 0.1 + 0.2}, Verdict: verdict.Undecided, Why: "too few stations"},
	}
	c := words.Writer{}.Checks(list)
	require.Equal(t, verdict.Undecided, c.Verdict)
	require.Equal(t, "wing to door, step of gap: at worst 0.12 ± 0.05 mm (allowed: at most 0.125 mm), from 25 to 50 mm: undecided.", c.Found[0].Text)
	require.Equal(t, "wing to door, taper over 300 mm: no value (allowed: −0.30 to 0.30 mm per 100 mm), because too few stations: undecided.", c.Found[1].Text)
}

// In other languages sentences begin with letters of more than one byte, and with quotation marks.
func TestSentencesBeginWithAnyLetter(t *testing.T) {
	german := words.Writer{Translate: func(key, fallback string, data map[string]any) string {
		if key == "seam.the" {
			fallback = "„{{.Panel}}“"
		}
		return words.Fill(fallback, data)
	}}
	r := long(10, func(_ int, s *gapflush.Station) { s.Flush = verdict.Value{V: 3, U: 0.1, OK: true} })
	begun := false
	for _, s := range german.Seam(0, r).Found {
		require.True(t, utf8.ValidString(s.Text), s.Text)
		begun = begun || strings.HasPrefix(s.Text, "„wing“")
	}
	require.True(t, begun, "one begins with a panel")
}

// A scan that lies elsewhere needs a placement: nothing else is advised, at the seams as little as at the placement.
func TestAScanThatLiesElsewhereIsToBePlaced(t *testing.T) {
	o := &app.Outcome{Inspection: &inspection.Inspection{Reference: &inspection.Reference{}},
		Placed: &app.Placed{Placement: align.Placement{Method: "none", Free: [6]bool{true, true, true, true, true, true}}}}
	r := seam("a to b", func(_ int, s *gapflush.Station) {
		s.State, s.Gap, s.Flush = gapflush.OffPath, verdict.Value{}, verdict.Value{}
	})
	w := words.Writer{}.For(o)
	const cure = "The scan lies nowhere near the reference as it is: have it placed by a best fit first, which needs no starting position."
	c := w.Seam(0, r)
	require.Equal(t, []string{cure}, c.Next)
	require.Equal(t, "Nothing of the scan lies where this seam is: the scan is not placed on the reference", c.Headline)
	require.Equal(t, []string{cure}, w.Place(o.Placed).Next)
	// One that has its seam where the path is needs none.
	require.NotContains(t, w.Seam(0, seam("a to b", func(int, *gapflush.Station) {})).Next, cure)
}

// A deviation as large as the reach is no greatest one.
func TestTheReachIsNoExtreme(t *testing.T) {
	o := &app.Outcome{Inspection: &inspection.Inspection{Surface: inspection.Surface{Reach: 30}},
		Placed:   &app.Placed{Mesh: &mesh.Mesh{Vertices: []geom.Vec{{X: 1}, {X: 2}, {X: 3}}}},
		Compared: &app.Compared{Field: &deviation.Field{Deviation: []float64{29.98, -12, 0}, State: []deviation.State{0, 0, deviation.BeyondReach}}}}
	o.Compared.Summary.AreaWeighted = deviation.Figures{OK: true}
	o.Compared.Summary.Count[deviation.BeyondReach] = 1
	said := found(words.Writer{}.Surface(o))
	require.Contains(t, said, "At its highest it stands proud by 30.0 mm and more, at x 1, y 0, z 0 mm: that is the reach, beyond which nothing is measured.")
	require.Contains(t, said, "At its lowest it lies 12.0 mm low, at x 2")
	o.Compared.Summary.Count[deviation.BeyondReach] = 0
	require.Contains(t, found(words.Writer{}.Surface(o)), "At its highest it stands 30.0 mm proud, at")
}

// How far another placement lies has no more figures than its size.
func TestAPlacementElsewhereHasNoFalsePrecision(t *testing.T) {
	far := app.Other{Method: "best-fit", Greatest: 4110.194, Shift: geom.Vec{X: 1022.3456}, Turn: geom.Vec{Z: 149.2031 * math.Pi / 180}, Placement: align.Placement{RMSKnown: true, RMS: 0.031}}
	p := &app.Placed{Placement: align.Placement{Method: "none"}, Others: []app.Other{far}}
	require.Contains(t, found(words.Writer{}.Place(p)), "By best fit on the whole part the scan would lie up to 4110 mm elsewhere: 1022 mm in the middle, turned by 149.2 degrees, with an RMS of 0.03 mm.")
	p.Others[0].Greatest, p.Others[0].Shift.X, p.Others[0].Turn.Z = 1.5321, 0.4567, 0.01234*math.Pi/180
	require.Contains(t, found(words.Writer{}.Place(p)), "up to 1.532 mm elsewhere: 0.457 mm in the middle, turned by 0.0123 degrees")
}
