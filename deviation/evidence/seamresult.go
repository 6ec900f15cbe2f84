package evidence

import (
	"fmt"
	"math"
	"strings"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// seamResult is a seam with its settings, figures and stations.
type seamResult struct {
	Name         string          `json:"name"`
	Every        num             `json:"every_mm"`
	Window       num             `json:"window_mm"`
	Band         num             `json:"band_mm"`
	Face         [2]num          `json:"face_mm"`
	Edges        [2]string       `json:"edges"`
	Radius       [2]num          `json:"radius_mm"`
	Master       string          `json:"master"`
	Called       *[2]string      `json:"panels,omitempty"` // of side A and B, from the seam's name
	Sides        []sideResult    `json:"sides,omitempty"`
	Gap          targetResult    `json:"gap"`
	Flush        targetResult    `json:"flush"`
	Taper        targetResult    `json:"taper"`
	StationCount int             `json:"station_count"`
	Measured     int             `json:"measured"`
	GapMean      valueResult     `json:"gap_mean_mm"`
	GapMin       valueResult     `json:"gap_min_mm"`
	GapMax       valueResult     `json:"gap_max_mm"`
	FlushMean    valueResult     `json:"flush_mean_mm"`
	FlushMin     valueResult     `json:"flush_min_mm"`
	FlushMax     valueResult     `json:"flush_max_mm"`
	TaperValue   valueResult     `json:"taper_mm_per_100mm"`
	TaperVerdict *string         `json:"taper_verdict"`
	Verdict      *string         `json:"verdict"`
	VerdictOf    []partResult    `json:"verdict_of,omitempty"` // what it is the worst of
	Why          string          `json:"why,omitempty"`        // nothing was measured
	Notes        []string        `json:"notes"`
	Picture      string          `json:"picture"` // its file; those of its stations have the same name behind "station-"
	Stations     []stationResult `json:"stations,omitempty"`
}

// sideResult says which way the sides lie, by the axes of the frame that results are in, from one station to another.
type sideResult struct {
	First int    `json:"first_station"`
	Last  int    `json:"last_station"`
	A     string `json:"a_toward"`
	B     string `json:"b_toward"`
}

func sidesOf(r *gapflush.Result) (out []sideResult) {
	for _, run := range r.Sides() {
		out = append(out, sideResult{r.Stations[run.First].Index, r.Stations[run.Last].Index, run.A.String(), run.B.String()})
	}
	return out
}

// sidesText is the same for one cell of a table: "A -x, B +x", with the stations where it changes on the way.
func sidesText(r *gapflush.Result) string {
	runs := sidesOf(r)
	var parts []string
	for _, s := range runs {
		text := "A " + s.A + ", B " + s.B
		if len(runs) > 1 {
			text = fmt.Sprintf("%d to %d: ", s.First, s.Last) + text
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, "; ")
}

type valueResult struct {
	Value num `json:"value"`
	U     num `json:"U"`
}

func valueOf(v verdict.Value) valueResult { return valueResult{val(v), valU(v)} }

type targetResult struct {
	Nominal   num    `json:"nominal"`
	Tolerance [2]num `json:"tolerance"`
}

func targetOf(t gapflush.Target) targetResult {
	return targetResult{num{t.Nominal, mmDecimals, t.HasNominal},
		[2]num{{t.Tolerance.Lo, mmDecimals, t.Judged}, {t.Tolerance.Hi, mmDecimals, t.Judged}}}
}

func seamOf(r *gapflush.Result, summary bool) seamResult {
	s := r.Seam
	out := seamResult{
		Name: s.Name, Every: mm(s.Every), Window: mm(s.Window), Band: mm(s.Band), Face: [2]num{mm(s.Face[0]), mm(s.Face[1])},
		Edges:  [2]string{edgeWord(s.Edges[0]), edgeWord(s.Edges[1])},
		Radius: [2]num{{s.Radius[0], mmDecimals, s.Radius[0] > 0}, {s.Radius[1], mmDecimals, s.Radius[1] > 0}},
		Master: [...]string{"A", "B"}[s.Master],
		Gap:    targetOf(s.Gap), Flush: targetOf(s.Flush), Taper: targetOf(s.Taper),
		StationCount: len(r.Stations), Measured: r.Measured,
		GapMean: valueOf(r.GapMean), GapMin: valueOf(r.GapMin), GapMax: valueOf(r.GapMax),
		FlushMean: valueOf(r.FlushMean), FlushMin: valueOf(r.FlushMin), FlushMax: valueOf(r.FlushMax),
		TaperValue: valueOf(r.Taper), TaperVerdict: present(r.TaperVerdict), Verdict: present(r.Verdict), VerdictOf: partsOf(r), Why: noValue(r), Notes: list(r.Notes),
	}
	if panels, ok := s.Panels(); ok {
		out.Called = &panels
	}
	out.Sides = sidesOf(r)
	if summary {
		return out
	}
	for i := range r.Stations {
		out.Stations = append(out.Stations, stationOf(&r.Stations[i]))
	}
	return out
}

func edgeWord(k gapflush.EdgeKind) string {
	return [...]string{"round", "chamfer", "sharp"}[min(k, gapflush.Sharp)]
}

type stationResult struct {
	Station      int          `json:"station"`
	Along        num          `json:"along_mm"`
	Point        [3]num       `json:"point_mm"`
	State        string       `json:"state"`
	Why          string       `json:"why,omitempty"`
	Gap          num          `json:"gap_mm"`
	GapU         num          `json:"gap_U_mm"`
	Feeler       num          `json:"feeler_mm"`
	FeelerU      num          `json:"feeler_U_mm"`
	Flush        num          `json:"flush_mm"`
	FlushU       num          `json:"flush_U_mm"`
	Angle        num          `json:"angle_deg"`
	GapNominal   num          `json:"gap_nominal_mm"`
	FlushNominal num          `json:"flush_nominal_mm"`
	GapVerdict   string       `json:"gap_verdict"`
	FlushVerdict string       `json:"flush_verdict"`
	NoseA        string       `json:"nose_a"`
	NoseB        string       `json:"nose_b"`
	GapBudget    []budgetLine `json:"gap_budget,omitempty"`
	FlushBudget  []budgetLine `json:"flush_budget,omitempty"`
}

type budgetLine struct {
	Source string `json:"source"`
	U      num    `json:"u_mm"`
}

func budgetOf(lines []gapflush.BudgetLine) []budgetLine {
	var out []budgetLine
	for _, l := range lines {
		out = append(out, budgetLine{l.Source, mm(l.U)})
	}
	return out
}

func stationOf(s *gapflush.Station) stationResult {
	return stationResult{
		Station: s.Index, Along: mm(s.Along), Point: mm3(s.P),
		State: string(s.State), Why: s.Why,
		Gap: val(s.Gap), GapU: valU(s.Gap), Feeler: val(s.Feeler), FeelerU: valU(s.Feeler), Flush: val(s.Flush), FlushU: valU(s.Flush),
		Angle:      num{s.Angle.V * 180 / math.Pi, degDecimals, s.Angle.OK},
		GapNominal: val(s.GapNominal), FlushNominal: val(s.FlushNominal),
		GapVerdict: s.GapVerdict.String(), FlushVerdict: s.FlushVerdict.String(),
		NoseA: s.Side[0].NoseState.String(), NoseB: s.Side[1].NoseState.String(),
		GapBudget: budgetOf(s.GapBudget), FlushBudget: budgetOf(s.FlushBudget),
	}
}
