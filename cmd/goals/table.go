package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// reading picks one figure of a station: what was measured, and the truth.
type reading struct {
	name string
	got  func(station) verdict.Value
	want func(station) float64
}

var readings = []reading{
	{"gap", func(s station) verdict.Value { return s.got.Gap }, func(s station) float64 { return s.truth.Gap }},
	{"flush", func(s station) verdict.Value { return s.got.Flush }, func(s station) float64 { return s.truth.Flush }},
}

// The goals: 95th percentile of the error in mm, by reading and nose class.
var errorGoal = map[string]float64{"gap seen": 0.10, "flush seen": 0.06, "gap carried": 0.20, "flush carried": 0.08}

const (
	placementGoal = 0.05 // mm
	givenGoal     = 0.01 // mm RMS
	bestGoal      = 0.02 // mm RMS
	insideUGoal   = 0.90 // share of errors
	refusedGoal   = 0.10 // share of measurable stations
	wrongLimit    = 3.0  // an error beyond so many U is a wrong number
)

// table gathers rows and whether any goal was missed.
type table struct {
	w      *tabwriter.Writer
	missed bool
}

func (t *table) row(what, got, goal string, ok bool) {
	mark := "reached"
	if !ok {
		mark, t.missed = "MISSED", true
	}
	fmt.Fprintf(t.w, "%s\t%s\t%s\t%s\n", what, got, goal, mark)
}

func printTable(out io.Writer, size int, seeds []int, all []*figures) (missed bool) {
	t := &table{w: tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)}
	fmt.Fprintf(t.w, "\n%d triangles, seeds %v\tmeasured\tgoal\t\n", size, seeds)
	var stations []station
	for _, f := range all {
		stations = append(stations, f.stations...)
	}
	each := func(pick func(*figures) float64) (string, float64) {
		var texts []string
		worst := 0.0
		for _, f := range all {
			texts = append(texts, fmt.Sprintf("%.4f", pick(f)))
			worst = max(worst, pick(f))
		}
		return strings.Join(texts, " ") + " mm", worst
	}
	text, worst := each(func(f *figures) float64 { return f.placement })
	t.row("placement, greatest displacement", text, fmt.Sprintf("%.2f mm", placementGoal), worst <= placementGoal)
	text, worst = each(func(f *figures) float64 { return f.givenRMS })
	t.row("deviation less truth, RMS, given", text, fmt.Sprintf("%.2f mm", givenGoal), worst <= givenGoal)
	text, worst = each(func(f *figures) float64 { return f.bestRMS })
	t.row("deviation less truth, RMS, best-fit", text, fmt.Sprintf("%.2f mm", bestGoal), worst <= bestGoal)
	for _, class := range []string{"seen", "carried"} {
		for _, r := range readings {
			t.errors(r, class, stations)
		}
	}
	for _, r := range readings {
		t.uncertainty(r, stations)
	}
	t.states(stations)
	t.w.Flush()
	return t.missed
}

// class is "seen" where both noses were seen, "carried" where one had to be carried on, else "".
func class(s station) string {
	a, b := s.got.Side[0].NoseState, s.got.Side[1].NoseState
	switch {
	case a == gapflush.Seen && b == gapflush.Seen:
		return "seen"
	case a != gapflush.Unseen && b != gapflush.Unseen:
		return "carried"
	}
	return ""
}

func (t *table) errors(r reading, noses string, stations []station) {
	var e []float64
	for _, s := range stations {
		if v := r.got(s); v.OK && class(s) == noses {
			e = append(e, math.Abs(v.V-r.want(s)))
		}
	}
	goal := errorGoal[r.name+" "+noses]
	p95 := percentile(e, 0.95)
	t.row(fmt.Sprintf("%s error, 95th percentile, noses %s", r.name, noses),
		fmt.Sprintf("%.4f mm (median %.4f, largest %.4f, n %d)", p95, percentile(e, 0.5), percentile(e, 1), len(e)),
		fmt.Sprintf("%.2f mm", goal), len(e) > 0 && p95 <= goal)
}

func (t *table) uncertainty(r reading, stations []station) {
	n, inside, wrong := 0, 0, 0
	var us []float64
	for _, s := range stations {
		v := r.got(s)
		if !v.OK {
			continue
		}
		n++
		e := math.Abs(v.V - r.want(s))
		if e <= v.U {
			inside++
		}
		if e > wrongLimit*v.U {
			wrong++
		}
		us = append(us, v.U)
	}
	share := float64(inside) / float64(max(n, 1))
	t.row(r.name+" errors inside U", fmt.Sprintf("%.1f %% of %d (median U %.3f mm)", 100*share, n, percentile(us, 0.5)),
		fmt.Sprintf("%.0f %%", 100*insideUGoal), share >= insideUGoal)
	t.row(fmt.Sprintf("%s errors beyond %.0f U", r.name, wrongLimit), fmt.Sprint(wrong), "0", wrong == 0)
}

func (t *table) states(stations []station) {
	measurable, refused := 0, 0
	got, want := map[string]int{}, map[string]int{}
	unmeasurable, numbered := 0, 0
	for _, s := range stations {
		got[string(s.got.State)]++
		want[s.truth.State]++
		if s.truth.State == string(gapflush.Measured) {
			measurable++
			if !s.got.Gap.OK {
				refused++
			}
		} else {
			unmeasurable++
			if s.got.Gap.OK {
				numbered++
			}
		}
	}
	share := float64(refused) / float64(max(measurable, 1))
	t.row("measurable stations refused", fmt.Sprintf("%d of %d (%.1f %%)", refused, measurable, 100*share),
		fmt.Sprintf("%.0f %%", 100*refusedGoal), share <= refusedGoal)
	fmt.Fprintf(t.w, "gap given where the truth calls a station not measurable\t%d of %d\t\t\n", numbered, unmeasurable)
	fmt.Fprintf(t.w, "states found\t%s\t\t\n", counts(got, len(stations)))
	fmt.Fprintf(t.w, "states by truth\t%s\t\t\n", counts(want, len(stations)))
}

func counts(m map[string]int, n int) string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { return cmp.Or(m[b]-m[a], strings.Compare(a, b)) })
	var parts []string
	for _, k := range keys {
		parts = append(parts, fmt.Sprintf("%s %.1f %%", k, 100*float64(m[k])/float64(n)))
	}
	return strings.Join(parts, ", ")
}

// percentile interpolates linearly between order statistics; NaN for none.
func percentile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	at := p * float64(len(s)-1)
	i := min(int(at), len(s)-2)
	if i < 0 {
		return s[0]
	}
	return s[i] + (s[i+1]-s[i])*(at-float64(i))
}

// printWorst lists the stations whose error is largest in units of U.
func printWorst(out io.Writer, all []*figures, n int) {
	type line struct {
		ratio float64
		text  string
	}
	var lines []line
	for _, f := range all {
		for _, s := range f.stations {
			for _, r := range readings {
				if v := r.got(s); v.OK {
					e := v.V - r.want(s)
					lines = append(lines, line{math.Abs(e) / v.U, fmt.Sprintf("seed %d %s %d: %s %.4f, truth %.4f, error %.4f, U %.4f, noses %s %s, truth %s %v, state %s, truth %s",
						s.seed, s.truth.Seam, s.truth.Index, r.name, v.V, r.want(s), e, v.U, s.got.Side[0].NoseState, s.got.Side[1].NoseState, s.truth.NoseState, s.truth.SeenTo, s.got.State, s.truth.State)})
				} else if s.truth.State == string(gapflush.Measured) && r.name == "gap" {
					lines = append(lines, line{1e9, fmt.Sprintf("seed %d %s %d: refused: %s (%s), truth measured, noses %s %v", s.seed, s.truth.Seam, s.truth.Index, s.got.State, s.got.Why, s.truth.NoseState, s.truth.SeenTo)})
				}
			}
		}
	}
	slices.SortFunc(lines, func(a, b line) int { return cmp.Compare(b.ratio, a.ratio) })
	for _, l := range lines[:min(n, len(lines))] {
		fmt.Fprintln(out, l.text)
	}
}
