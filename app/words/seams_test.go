package words_test

import (
	"strings"
	"testing"

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

// long is a seam of n stations every 25 mm that runs up along z.
func long(n int, set func(k int, s *gapflush.Station)) *gapflush.Result {
	r := seam("wing to door", func(int, *gapflush.Station) {})
	first := r.Stations[0]
	r.Stations, r.Measured, r.Verdict = nil, 0, verdict.NotJudged
	for k := range n {
		s := first
		s.Index, s.Along = k+1, 12.5+25*float64(k)
		s.P = geom.Vec{X: 760, Z: 100.5 + s.Along}
		set(k, &s)
		s.GapVerdict, s.FlushVerdict = verdict.NotJudged, verdict.NotJudged
		if s.Gap.OK {
			s.GapVerdict = verdict.Decide(verdict.Value{V: s.Gap.V - 4, U: s.Gap.U, OK: true}, r.Seam.Gap.Tolerance)
			r.Measured++
		}
		if s.Flush.OK {
			s.FlushVerdict = verdict.Decide(s.Flush, r.Seam.Flush.Tolerance)
		}
		r.Verdict = verdict.Worst(r.Verdict, s.GapVerdict, s.FlushVerdict)
		r.Stations = append(r.Stations, s)
	}
	return r
}

func lose(s *gapflush.Station, state gapflush.State) {
	s.State, s.Gap, s.Flush = state, verdict.Value{}, verdict.Value{}
}

func next(c words.Card) string { return strings.Join(c.Next, "\n") }

// The gap is 4 mm flat for 450 mm and then falls by exactly 0.3 mm per 100 mm:
// by hand, 300 mm that lie wholly in the fall have that slope and no scatter; U is 200 mm times
// 0.015 mm over the root of 25² (13³ − 13) / 12 mm², 0.0089 mm per 100 mm.
func TestASteepStretchIsNotHiddenByOneLine(t *testing.T) {
	r := long(34, func(k int, s *gapflush.Station) {
		s.Gap.U = 0.03
		if s.Along > 450 {
			s.Gap.V = 4 - 0.003*(s.Along-450)
		}
	})
	r.Seam.Taper = gapflush.Target{Tolerance: verdict.Tolerance{Lo: -0.2, Hi: 0.2}, Judged: true}
	r.Taper, r.TaperVerdict = verdict.Value{V: -0.13, U: 0.02, OK: true}, verdict.Conforms
	said := found(words.Writer{}.Seam(0, r))
	require.Contains(t, said, "Taper −0.13 ± 0.02 mm per 100 mm, one line through the gaps of 34 of 34 stations from 12.5 to 837.5 mm: conforms.")
	require.Contains(t, said, "the steepest stretch of 300 mm, 13 stations from 537.5 to 837.5 mm, has a taper of −0.300 ± 0.009 mm per 100 mm. Taken alone that is out of the taper's tolerance")

	// An even slope has no stretch worth telling of.
	even := long(34, func(k int, s *gapflush.Station) { s.Gap.V, s.Gap.U = 4-0.0012*s.Along, 0.03 })
	even.Taper = verdict.Value{V: -0.12, U: 0.001, OK: true}
	require.NotContains(t, found(words.Writer{}.Seam(0, even)), "steepest")
	// Nor has a seam whose gaps reach over less than such a stretch.
	short := long(34, func(k int, s *gapflush.Station) {
		if k > 10 {
			lose(s, gapflush.Bridged)
		}
		s.Gap.V -= 0.001 * float64(k*k)
	})
	short.Taper = verdict.Value{V: -0.9, U: 0.001, OK: true}
	require.NotContains(t, found(words.Writer{}.Seam(0, short)), "steepest")
}

func TestFewStationsAreSaidToBeFew(t *testing.T) {
	r := long(36, func(k int, s *gapflush.Station) {
		s.Gap.V = 4.1 - 0.2*float64(k)
		if k > 5 {
			lose(s, gapflush.OffPath)
		}
	})
	r.GapMean, r.Verdict = verdict.Value{V: 3.6, U: 0.01, OK: true}, verdict.Undecided
	r.Taper, r.TaperVerdict = verdict.Value{V: -0.114, U: 0.007, OK: true}, verdict.Conforms
	c := words.Writer{}.Seam(0, r)
	require.Equal(t, "The seam cannot be decided with this scan: 30 of 36 stations have no gap", c.Headline)
	said := found(c)
	require.Contains(t, said, "at station 1 (12.5 mm along)")
	require.Contains(t, said, "at station 6 (137.5 mm)")
	require.Contains(t, said, "through the gaps of 6 of 36 stations from 12.5 to 137.5 mm")
	require.Contains(t, said, "On average the gap is 3.60 ± 0.01 mm over 6 of 36 stations.")
	require.Contains(t, next(c), "The path is not where the scan has this seam")
	require.NotContains(t, next(c), "Nothing to do")
	require.NotContains(t, next(c), "own frame")
	require.Contains(t, next(words.Writer{OwnFrame: true}.Seam(0, r)), "Without a reference, paths are in the scan's own frame.")
}

func TestTwoEndsSayLittleOfWhatLiesBetween(t *testing.T) {
	r := long(34, func(k int, s *gapflush.Station) {
		s.Gap.V = 4.1 - 0.03*float64(k)
		if k > 0 && k < 33 {
			lose(s, gapflush.OffPath)
		}
	})
	require.Contains(t, found(words.Writer{}.Seam(0, r)), "Between the two, 32 of 32 stations have no gap: how it runs there is not known.")
	half := long(34, func(k int, s *gapflush.Station) {
		if k%2 == 1 && k < 33 {
			lose(s, gapflush.Bridged)
		}
	})
	require.NotContains(t, found(words.Writer{}.Seam(0, half)), "Between the two")
}

func TestTheEvidenceCountsWhatIsMissing(t *testing.T) {
	r := long(34, func(k int, s *gapflush.Station) {
		if k < 30 {
			lose(s, gapflush.OffPath)
		}
	})
	r.Verdict = verdict.Undecided
	o := &app.Outcome{Seams: []*gapflush.Result{r}}
	require.Contains(t, found(words.Writer{}.Evidence(o, "")), "Wing to door: 0 of 34 stations out, 30 without a gap, undecided.")
}

func TestStationsWithoutANumberAreNamedInAndBesideARun(t *testing.T) {
	r := long(12, func(k int, s *gapflush.Station) {
		switch k {
		case 4, 5, 7, 8:
			s.Gap.V = 2.5
		case 2, 3:
			lose(s, gapflush.NoseUnseen)
		case 6:
			lose(s, gapflush.Bridged)
		}
	})
	said := found(words.Writer{}.Seam(0, r))
	require.Contains(t, said, "The gap is too narrow at stations 5, 6, 8 and 9 (100 to 225 mm along the seam): down to 2.50 ± 0.08 mm where 4.00 mm is wanted."+
		" In between there is no number at station 7. Next to it there is no number at stations 3 and 4, so it may reach further.")
	require.Equal(t, 1, strings.Count(said, "too narrow"))
}

// A tolerance need not hold the nominal: 4.5 to 5 mm are allowed of gaps of 4 mm. What lies below is too narrow, though
// it is no narrower than the nominal, and is to be brought to the middle of what is allowed.
func TestAToleranceBesideItsNominal(t *testing.T) {
	r := long(34, func(_ int, s *gapflush.Station) { s.Gap = verdict.Value{V: 4.1, U: 0.03, OK: true} })
	r.Seam.Gap.Tolerance = verdict.Tolerance{Lo: 0.5, Hi: 1}
	for i := range r.Stations {
		r.Stations[i].GapVerdict = verdict.DoesNotConform
	}
	c := words.Writer{}.Seam(0, r)
	require.Contains(t, found(c), "The gap is too narrow at stations 1 to 34 (0 to 850 mm along the seam): down to 4.10 ± 0.03 mm where 4.75 mm is wanted.")
	require.Contains(t, next(c), "go away from the door (side B) by 0.65 ± 0.03 mm")
}

// Where more stations lie within U of a limit than have no gap, that is what the seam hangs on.
func TestTheHeadlineNamesWhatTheSeamHangsOn(t *testing.T) {
	r := long(34, func(k int, s *gapflush.Station) {
		if s.Gap = (verdict.Value{V: 5.1, U: 0.5, OK: true}); k == 3 {
			lose(s, gapflush.NoseUnseen)
		}
	})
	require.Equal(t, verdict.Undecided, r.Verdict)
	c := words.Writer{}.Seam(0, r)
	require.Equal(t, "The seam cannot be decided with this scan: 33 of 34 stations lie within U of a limit", c.Headline)
	require.Contains(t, next(c), "33 of 34 stations lie within U of a limit of tolerance: only a scan with less noise")
}

// Ends that are off by known amounts must move by just those.
func TestWhatMustMoveIsSaidForBothEnds(t *testing.T) {
	r := long(34, func(k int, s *gapflush.Station) {
		share := float64(k) / 33
		s.Flush = verdict.Value{V: -1.44 + 2.93*share, U: 0.04, OK: true}
		s.Gap = verdict.Value{V: 4 - 1.13*share, U: 0.03, OK: true}
	})
	c := words.Writer{}.Seam(0, r)
	require.Contains(t, c.Next[0], "is the door (side B) the one that stays?")
	require.Contains(t, c.Next[1], "To be as flush with the door (side B) as wanted, the wing (side A) must at its lower end (station 1, z = 113 mm) come out by 1.44 ± 0.04 mm"+
		" and at its upper end (station 34, z = 938 mm) go in by 1.49 ± 0.04 mm. One end is low and the other proud: the wing (side A) is turned or twisted")
	require.Contains(t, c.Next[2], "at its lower end (station 1, z = 113 mm) stay as it is (off by 0.00 ± 0.03 mm) and at its upper end (station 34, z = 938 mm) go away from the door (side B) by 1.13 ± 0.03 mm.")
	require.NotContains(t, next(c), "would then", "both run straight")
	require.Contains(t, words.Writer{OwnFrame: true}.Seam(0, r).Next[1], "at station 1 come out by", "a scan's own frame has no below")

	// The path walked the other way changes nothing but the order.
	down := long(34, func(k int, s *gapflush.Station) {
		s.Flush, s.Gap, s.P = r.Stations[33-k].Flush, r.Stations[33-k].Gap, r.Stations[33-k].P
	})
	require.Contains(t, words.Writer{}.Seam(0, down).Next[1], "at its upper end (station 1, z = 938 mm) go in by 1.49 ± 0.04 mm and at its lower end (station 34, z = 113 mm) come out by 1.44")

	// Flat for half of the length, then 2 mm less at the end: moved straight, the middle is off by 1 mm.
	bent := long(35, func(k int, s *gapflush.Station) { s.Gap.V, s.Gap.U = 4-2*max(0, float64(k-17)/17), 0.03 })
	require.Contains(t, next(words.Writer{}.Seam(0, bent)), "The gap would then still be 1.00 ± 0.04 mm too wide at station 18")
}

func TestThereIsOneVerdict(t *testing.T) {
	r := long(12, func(k int, s *gapflush.Station) {
		s.Gap.V = 2
		if k < 4 {
			lose(s, gapflush.Bridged)
		}
	})
	r.Notes = []string{"4 of 12 stations have no number, more than a tenth: the seam is undecided at best."}
	require.NotContains(t, found(words.Writer{}.Seam(0, r)), "undecided")
	r.Verdict = verdict.Undecided
	require.Contains(t, found(words.Writer{}.Seam(0, r)), "undecided at best.")
}

func TestEveryStateHasAdvice(t *testing.T) {
	for _, s := range []gapflush.State{gapflush.NoseUnseen, gapflush.SideMissing, gapflush.Bridged, gapflush.TwoSkins,
		gapflush.NoFace, gapflush.TooCoarse, gapflush.ThirdPanel, gapflush.NotParallel, gapflush.OffPath} {
		c := words.Writer{}.Seam(0, long(30, func(k int, st *gapflush.Station) {
			if k == 7 {
				lose(st, s)
			}
		}))
		require.Len(t, c.Next, 1)
		require.True(t, strings.HasPrefix(c.Next[0], "Station 8: "), c.Next[0])
	}
}

func TestTheHighestSpotHasAPlaceAndMayBeAMembrane(t *testing.T) {
	r := long(4, func(k int, s *gapflush.Station) {
		if k == 1 {
			lose(s, gapflush.Bridged)
		}
	})
	r.Seam.Name = "door to quarter"
	o := &app.Outcome{
		Inspection: &inspection.Inspection{},
		Placed: &app.Placed{Mesh: &mesh.Mesh{Vertices: []geom.Vec{
			{X: 765, Z: 100 + 37.5}, {X: 500, Y: 3, Z: 20}, {X: 400, Z: 10}, {X: 771, Z: 100 + 37.5},
		}}},
		Compared: &app.Compared{Field: &deviation.Field{Deviation: []float64{2.2, 1.25, -0.5, 9}, State: []deviation.State{0, 0, 0, deviation.BeyondReach}},
			Summary: deviation.Summary{AreaWeighted: deviation.Figures{OK: true, Max: 2.2, Min: -0.5}}},
		Seams: []*gapflush.Result{r},
	}
	said := found(words.Writer{}.Surface(o))
	require.Contains(t, said, "At its highest it stands 2.20 mm proud, at x 765, y 0, z 138 mm. That is beside station 2 of door to quarter, where the scan runs across the gap")
	require.Contains(t, said, "Away from such stations the highest spot reads +1.25 mm, at x 500, y 3, z 20 mm.")
	require.Contains(t, said, "At its lowest it lies 0.50 mm low, at x 400, y 0, z 10 mm.")
	o.Placed.Mesh.Vertices[0].X = 770.5 // 10.5 mm from the seam
	require.NotContains(t, found(words.Writer{}.Surface(o)), "membrane")
}

func TestNoReferenceIsSaidOnce(t *testing.T) {
	p := &app.Placed{Placement: align.Placement{Method: "none", Free: [6]bool{true, true, true, true, true, true},
		Notes: []string{"there is no reference: positions along the paths are those of the scan's own frame"}}}
	c := words.Writer{}.Place(p)
	require.Equal(t, verdict.NotJudged, c.Verdict)
	require.Len(t, c.Found, 1)
	require.NotContains(t, next(c), "corner")
}

func TestALengthWithoutAValueEndsInOneFullStop(t *testing.T) {
	var c words.Card
	words.Writer{}.Lengths(&c, []app.Length{{Spec: inspection.Length{Name: "bar"}, Why: "The line does not meet the scan."}})
	require.Equal(t, "The known length bar has no value: the line does not meet the scan.", c.Found[0].Text)
}

// What was brought to 20 degrees, what is allowed and what the drift rests on is said with a length.
func TestALengthSaysWhatItIsJudgedBy(t *testing.T) {
	l := app.Length{
		Spec: inspection.Length{Name: "bar", HasTemperature: true, Temperature: 25}, Judged: true, Allowed: 0.1, Verdict: verdict.Conforms, Grown: true, Alone: true,
		Measured: verdict.Value{V: 1000.02, U: 0.3, OK: true}, Reading: verdict.Value{V: 1000.02, U: 0.03, OK: true}, Error: verdict.Value{V: 0.02, U: 0.03, OK: true}, ErrorPPM: 20,
	}
	var c words.Card
	words.Writer{}.Lengths(&c, []app.Length{l})
	require.Equal(t, "The known length bar reads 1000.02 ± 0.03 mm at 20 °C, off by 0.02 ± 0.03 mm (20 ppm), where ± 0.10 mm are allowed: conforms.", c.Found[0].Text)
	require.Contains(t, c.Found[1].Text, "as this length alone tells it")
}

// A nominal in doubt makes no work order: neither how far a panel must move nor where it is held.
func TestANominalInDoubtMovesNothing(t *testing.T) {
	r := long(10, func(k int, s *gapflush.Station) { s.Gap.V, s.Gap.U = 7+0.01*float64(k), 0.03 })
	require.Contains(t, next(words.Writer{}.Seam(0, r)), "For the gap wanted, ")
	r.GapDoubt = true
	said := next(words.Writer{}.Seam(0, r))
	require.NotContains(t, said, "For the gap wanted, ")
	require.NotContains(t, said, "before any metal is reworked")
	require.Contains(t, said, "First: is the gap nominal of ")
}

// Whoever reads that a seam does not conform reads what does not: here every station conforms, and the taper over 300 mm does not.
func TestASeamSaysWhatItIsHeldTo(t *testing.T) {
	r := long(36, func(k int, s *gapflush.Station) {
		if k == 20 {
			lose(s, gapflush.NoFace)
		}
	})
	r.Seam.Taper = gapflush.Target{Tolerance: verdict.Tolerance{Lo: -0.2, Hi: 0.2}, Judged: true}
	r.Taper, r.TaperVerdict = verdict.Value{V: -0.13, U: 0.02, OK: true}, verdict.Conforms
	check := app.SeamCheck{Seam: "wing to door", Kind: "taper over 300 mm", Unit: "mm per 100 mm", Over: 300, Value: verdict.Value{V: -0.33, U: 0.03, OK: true},
		Limit: verdict.Tolerance{Lo: -0.2, Hi: 0.2}, From: 587.5, To: 887.5, Verdict: verdict.DoesNotConform}
	held := r.Hold([]app.SeamCheck{check})
	c := words.Writer{}.Seam(0, held)
	require.Equal(t, verdict.DoesNotConform, c.Verdict)
	require.Equal(t, "Out of tolerance: taper over 300 mm; no station is", c.Headline)
	require.Equal(t, "taper over 300 mm does not conform", c.Judged)
	require.Contains(t, found(c), "Taper over 300 mm: at worst −0.33 ± 0.03 mm per 100 mm (allowed: −0.20 to 0.20 mm per 100 mm), from 587.5 to 887.5 mm: does not conform.")
	require.NotContains(t, found(c), "the verdict is on the whole line")
	require.NotContains(t, next(c), "Nothing to do")
	o := &app.Outcome{Seams: []*gapflush.Result{held}}
	require.Contains(t, found(words.Writer{}.Evidence(o, "")), "Wing to door: 0 of 36 stations out, 1 without a gap, taper over 300 mm does not conform: does not conform.")

	step := app.SeamCheck{Kind: "step of flush", Unit: "mm", Value: verdict.Value{V: 0.5, U: 0.05, OK: true}, Limit: verdict.Tolerance{Hi: 0.3}, From: 25, To: 50, Verdict: verdict.DoesNotConform}
	c = words.Writer{}.Seam(0, r.Hold([]app.SeamCheck{step}))
	require.Equal(t, "Out of tolerance: step of flush; no station is", c.Headline)
	require.Contains(t, next(c), "Look at the edges between 25 and 50 mm (step of flush)")
}

// A seam that is held to nothing but steps says so, and nothing of a taper.
func TestASeamHeldToStepsAloneSaysWhatConforms(t *testing.T) {
	r := long(4, func(k int, s *gapflush.Station) { s.GapVerdict, s.FlushVerdict = verdict.NotJudged, verdict.NotJudged })
	r.Seam.Gap.Judged, r.Seam.Flush.Judged, r.Seam.Taper.Judged = false, false, false
	r.TaperVerdict, r.Verdict = verdict.NotJudged, verdict.NotJudged
	step := func(kind string) app.SeamCheck {
		return app.SeamCheck{Kind: kind, Unit: "mm", Value: verdict.Value{V: 0.1, U: 0.05, OK: true}, Limit: verdict.Tolerance{Hi: 0.3}, Verdict: verdict.Conforms}
	}
	c := words.Writer{}.Seam(0, r.Hold([]app.SeamCheck{step(gapflush.StepOfGap), step(gapflush.StepOfFlush)}))
	require.Equal(t, "In tolerance: step of gap and step of flush; neither the gap's width nor the flush was judged", c.Headline)
	require.NotContains(t, c.Judged, "taper")
}

// What is undecided is named, and what is told to do about it would decide it.
func TestAnUndecidedTaperIsNoUndecidedStation(t *testing.T) {
	r := long(4, func(k int, s *gapflush.Station) {})
	r.Taper, r.TaperVerdict = verdict.Value{V: -0.12, U: 0.14, OK: true}, verdict.Undecided
	r.Verdict = verdict.Undecided
	c := words.Writer{}.Seam(0, r)
	require.Equal(t, "Undecided: taper; no station is", c.Headline)
	require.Contains(t, next(c), "The taper of −0.12 ± 0.14 mm per 100 mm lies within U of a limit of its tolerance: its U is smaller over a longer path")
	require.NotContains(t, next(c), "Scan this seam again")
}

// Two stations within U of a limit leave a seam open, one without a gap does not.
func TestAStationWithoutAGapIsNotWhatLeavesASeamOpen(t *testing.T) {
	r := long(34, func(k int, s *gapflush.Station) {
		switch k {
		case 3:
			s.Gap.V = 5.02
		case 7, 8:
			lose(s, gapflush.NoseUnseen)
		}
	})
	c := words.Writer{}.Seam(0, r)
	require.Equal(t, "The seam cannot be decided with this scan: 1 of 34 stations lies within U of a limit", c.Headline)
}

// Every station without a gap is counted, also one that is out for its flush.
func TestTheHeadlineCountsAllStationsWithoutAGap(t *testing.T) {
	r := long(36, func(k int, s *gapflush.Station) {
		switch {
		case k == 20:
			lose(s, gapflush.NoFace)
		case k == 32 || k == 33:
			s.State, s.Gap, s.Flush = gapflush.NoseUnseen, verdict.Value{}, verdict.Value{V: 1.4, U: 0.04, OK: true}
		case k > 20:
			s.Flush = verdict.Value{V: 1.4, U: 0.04, OK: true}
		}
	})
	require.Equal(t, "15 of 36 stations are out of tolerance, 3 have no gap", words.Writer{}.Seam(0, r).Headline)
}
