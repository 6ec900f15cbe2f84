package chart

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// stationOf is a made-up station: two panels with rolls of 1.5 mm, a gap and a flush in mm.
func stationOf(gap, flush float64) gapflush.Station {
	st := seamOf(12).Stations[2]
	st.Gap, st.Flush = verdict.Value{V: gap, U: 0.09, OK: true}, verdict.Value{V: flush, U: 0.06, OK: true}
	st.Feeler, st.Angle = verdict.Value{V: gap + 0.02, U: 0.1, OK: true}, verdict.Value{V: 0.02, U: 0.002, OK: true}
	st.GapBudget = []gapflush.BudgetLine{{Source: "scatter of the fits", U: 0.021}, {Source: "radius assumed", U: 0.034}, {Source: "nose carried on", U: 0.012}, {Source: "scale of the scan", U: 0.001}, {Source: "scanner's noise", U: 0.004}}
	const r = 1.5
	side := func(sign, height float64) gapflush.SideFit {
		f := gapflush.SideFit{Found: true, Radius: r, NoseState: gapflush.Seen, SeenTo: 1.4, FaceFrom: 2.5, FaceTo: 12.5, Curvature: 1.0 / 900}
		f.Shoulder = gapflush.Point2{S: -sign * (gap/2 + r), H: height}
		f.Tangent, f.Normal = gapflush.Point2{S: sign}, gapflush.Point2{H: 1}
		f.Nose = gapflush.Point2{S: -sign * gap / 2, H: height - r}
		return f
	}
	st.Side = [2]gapflush.SideFit{side(1, flush), side(-1, 0)}
	st.Side[0].NoseState, st.Side[0].SeenTo = gapflush.Carried, 0.9
	for k, f := range st.Side {
		var line []gapflush.Point2
		for i := range 40 {
			d := 28 - 0.72*float64(i)
			q := step(step(f.Shoulder, -d, f.Tangent), -f.Curvature*d*d/2+0.03*math.Sin(7*float64(i+k)), f.Normal)
			line = append(line, q)
		}
		for phi := 0.05; phi < f.SeenTo; phi += 0.35 {
			c := step(f.Shoulder, -r, f.Normal)
			line = append(line, step(step(c, (r+0.02)*math.Sin(phi), f.Tangent), (r+0.02)*math.Cos(phi), f.Normal))
		}
		st.Profile = append(st.Profile, line)
		for i, q := range line {
			st.Points = append(st.Points, step(q, 0.04*math.Sin(11*float64(i)), f.Normal))
		}
	}
	return st
}

func TestStationTextsStandApart(t *testing.T) {
	unseen := stationOf(4.2, 0.4)
	unseen.State, unseen.Gap, unseen.Feeler = gapflush.NoseUnseen, verdict.Value{}, verdict.Value{}
	unseen.GapVerdict = verdict.NotJudged
	unseen.Side[0].NoseState, unseen.Side[0].SeenTo = gapflush.Unseen, 0.3
	unseen.Why = "The scan shows too little of side A's edge to tell where its nose lies; scan into the gap."
	bare := gapflush.Station{Index: 3, Along: 62.5, State: gapflush.SideMissing, Why: "There are no faces on side B within the window."}
	bare.Profile = stationOf(4, 0).Profile[:1]
	wrong := stationOf(2.6, 1.3)
	wrong.GapVerdict, wrong.FlushVerdict = verdict.DoesNotConform, verdict.DoesNotConform
	for _, c := range []struct {
		name  string
		w, h  int
		scale float64
		theme Theme
		st    gapflush.Station
	}{
		{"picture", 1200, 700, 1.5, Light(), stationOf(4.4, 0.32)},
		{"wrong", 1200, 700, 1.5, Light(), wrong},
		{"inset-dark", 340, 240, 1, Dark(), stationOf(4.4, -0.4)},
		{"unseen", 900, 500, 1, Light(), unseen},
		{"unseen-inset", 340, 240, 1, Light(), unseen},
		{"side-missing", 900, 500, 1, Light(), bare},
		{"empty", 340, 240, 1, Light(), gapflush.Station{Index: 1, State: gapflush.OffPath, Why: "No seam here."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := drawStation(c.w, c.h, c.theme, c.scale, seamOf(12).Seam, &c.st)
			keep(t, "station-"+c.name, s.img)
			noOverlap(t, s)
		})
	}
}

// In small windows the inset is narrow; a profile of which one side is short puts the gap beside its middle.
func TestNarrowInsetsKeepTheirTextsApart(t *testing.T) {
	for _, master := range []gapflush.Side{gapflush.A, gapflush.B} {
		for _, name := range []string{"wing to door", "seam 1"} {
			for _, short := range []float64{12.5, 6} {
				for w := 236; w <= 340; w += 8 {
					seam, st := seamOf(12).Seam, stationOf(2.88, 1.51)
					seam.Name, seam.Master = name, master
					st.Side[1-master].FaceTo = short
					s := drawStation(w, 206, Dark(), 1, seam, &st)
					noOverlap(t, s)
				}
			}
		}
	}
}

func TestABridgedStationShowsBothPanels(t *testing.T) {
	// A bridged station's sides are found but not fitted; its cut dips over the gap.
	st := gapflush.Station{Index: 13, State: gapflush.Bridged, Why: "Faces run across the gap, so its edges cannot be seen."}
	st.Side[0].Found, st.Side[1].Found = true, true
	st.Side[0].FaceTo, st.Side[1].FaceTo = 12.5, 12.5
	var line []gapflush.Point2
	for s := -29.0; s <= 29; s++ {
		line = append(line, gapflush.Point2{S: s, H: -0.8 * math.Exp(-s*s/8)})
	}
	st.Profile = [][]gapflush.Point2{line}
	seam := seamOf(12).Seam
	seam.Window = 30
	for _, state := range []gapflush.State{gapflush.Bridged, gapflush.SideMissing} {
		st.State = state
		s := newSheet(340, 240, Light(), 1)
		p := s.planeOf(seam, &st, 8, 52, 332, 150)
		for _, q := range []gapflush.Point2{{S: -30}, {S: 30}, line[0], line[len(line)/2], line[len(line)-1]} {
			at := p.at(q)
			if at[0] < p.x0-1e-9 || at[0] > p.x1+1e-9 || at[1] < p.y0-1e-9 || at[1] > p.y1+1e-9 {
				t.Errorf("%s: %v lies outside the drawing, at %v", state, q, at)
			}
		}
	}
	noOverlap(t, drawStation(340, 240, Light(), 1, seam, &st))
}

// A chamfer is drawn as the straight facet that was fitted and named so, not as a roll of its width: what its
// drawing has more than a sharp edge's lies on one straight line.
func TestAChamferIsDrawnStraight(t *testing.T) {
	drawn := func(edge gapflush.EdgeKind) *sheet {
		st := stationOf(4, 0)
		st.Side[0].Edge, st.Side[0].Radius = edge, 3
		st.Side[0].Nose = step(step(st.Side[0].Shoulder, 1.5, st.Side[0].Tangent), -2, st.Side[0].Normal)
		return drawStation(1800, 1240, Light(), 2, gapflush.DefaultSeam("edge", nil), &st)
	}
	chamfer, sharp := drawn(gapflush.Chamfer), drawn(gapflush.Sharp)
	words := ""
	for _, text := range chamfer.texts {
		words += text.text + "; "
	}
	require.Contains(t, words, "chamfer, nose carried")
	require.NotContains(t, words, "r 3.00")
	var more [][2]float64
	for y := 120; y < 1240; y++ {
		for x := range 1200 { // beside the words
			if chamfer.img.RGBAAt(x, y) != sharp.img.RGBAAt(x, y) {
				more = append(more, [2]float64{float64(x), float64(y)})
			}
		}
	}
	require.Greater(t, len(more), 100)
	first, last := more[0], more[len(more)-1]
	l := math.Hypot(last[0]-first[0], last[1]-first[1])
	require.Greater(t, l, 50.0)
	for _, q := range more {
		off := ((last[0]-first[0])*(q[1]-first[1]) - (last[1]-first[1])*(q[0]-first[0])) / l
		require.Less(t, math.Abs(off), 6.0)
	}
}

// said are all texts of a picture, line by line.
func said(s *sheet) (words string) {
	for _, text := range s.texts {
		words += text.text + "\n"
	}
	return words
}

// What is said of a side agrees with what is drawn of it: points without a fit are seen, and a side without any is not; and every
// state says what to do, also where its reason does not.
func TestAStationSaysWhatItDraws(t *testing.T) {
	lost := stationOf(4.2, 0.4)
	lost.State, lost.Gap, lost.Flush, lost.Feeler, lost.Angle = gapflush.NoFace, verdict.Value{}, verdict.Value{}, verdict.Value{}, verdict.Value{}
	lost.Why = "The face zone of side B is not there or has holes."
	lost.Side = [2]gapflush.SideFit{{Found: true, Radius: 1.5}, {}}
	words := said(drawStation(1600, 1100, Light(), 2, seamOf(12).Seam, &lost))
	require.Equal(t, 2, strings.Count(words, "seen, not fitted\n"), words)
	require.NotContains(t, words, "not found")
	require.NotContains(t, words, "nose")

	lost.State, lost.Why = gapflush.SideMissing, "There are no faces on side B within the window."
	lost.Profile, lost.Points = lost.Profile[:1], nil
	words = said(drawStation(1600, 1100, Light(), 2, seamOf(12).Seam, &lost))
	require.Contains(t, words, "seen, not fitted\nside B\nnot seen\n")

	for _, state := range []gapflush.State{gapflush.NoseUnseen, gapflush.SideMissing, gapflush.Bridged, gapflush.TwoSkins, gapflush.NoFace, gapflush.TooCoarse, gapflush.ThirdPanel, gapflush.NotParallel, gapflush.OffPath} {
		require.NotEmpty(t, state.Remedy())
		lost.State, lost.Why = state, "So it is."
		require.Contains(t, strings.ReplaceAll(said(drawStation(1600, 1100, Light(), 2, seamOf(12).Seam, &lost)), "\n", " "), "So it is. "+state.Remedy())
	}
}

// The legend names the signs that stand in the drawing, and no others.
func TestAStationsLegendNamesItsSigns(t *testing.T) {
	st := stationOf(4.4, 0.32)
	words := said(drawStation(1600, 1100, Light(), 2, seamOf(12).Seam, &st))
	for _, sign := range []string{"nose seen\n", "nose carried on\n", "edge carried on\n", "face zone\n"} {
		require.Contains(t, words, sign)
	}
	st.Side[0].NoseState = gapflush.Seen
	words = said(drawStation(1600, 1100, Light(), 2, seamOf(12).Seam, &st))
	require.NotContains(t, words, "edge carried on")
	st.Side = [2]gapflush.SideFit{}
	require.NotContains(t, said(drawStation(1600, 1100, Light(), 2, seamOf(12).Seam, &st)), "face zone")
}
