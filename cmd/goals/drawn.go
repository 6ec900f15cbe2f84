package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
)

// drawnCase is a row of the goal table: seams drawn by the seed under one condition.
type drawnCase struct {
	name       string
	gap, flush float64 // mm, goals for the 95th percentile of the error
	options    bodywork.DrawnOptions
	tailgate   bool // of a shape that no limit was set by
}

func (c *drawnCase) trial(seed uint64) *bodywork.Trial {
	if c.tailgate {
		return bodywork.Tailgate(c.options.Noise, c.options.Seen, seed)
	}
	return bodywork.Drawn(c.options, seed)
}

const degree = math.Pi / 180

// drawnCases are the rows of the goal table, on a mesh of 0.8 mm.
func drawnCases() []drawnCase {
	with := func(noise, seen float64) bodywork.DrawnOptions {
		return bodywork.DrawnOptions{Radius: [2]float64{1, 5}, Noise: noise, Seen: seen * degree, Spacing: 0.8}
	}
	return []drawnCase{
		{"noise-free, nose seen", 0.02, 0.01, with(0, 0), false},
		{"noise 0.05 mm, nose seen", 0.06, 0.05, with(0.05, 0), false},
		{"noise 0.05 mm, 60 degrees seen", 0.12, 0.06, with(0.05, 60), false},
		{"noise 0.05 mm, 40 degrees seen", 0.20, 0.06, with(0.05, 40), false},
		{"tailgate, noise 0.05 mm, nose seen", 0.06, 0.05, with(0.05, 0), true},
		{"tailgate, noise 0.05 mm, 60 degrees seen", 0.12, 0.06, with(0.05, 60), true},
	}
}

// widthLimit is how many times the 95th percentile of the error the median U may be.
const widthLimit = 1.5

// errorsOf gathers a figure's errors and what was claimed of them.
type errorsOf struct {
	share
	errors, us []float64 // mm
}

func (e *errorsOf) add(v verdict.Value, want float64) {
	e.share.add(v, want)
	if v.OK {
		e.errors = append(e.errors, math.Abs(v.V-want))
		e.us = append(e.us, v.U)
	}
}

// drawnTally is what the stations of one case came to.
type drawnTally struct {
	stations   int
	gap, flush errorsOf
	states     map[string]int
}

func (t *drawnTally) try(ctx context.Context, trial *bodywork.Trial, threads int) error {
	r, err := gapflush.Measure(ctx, trial.Scan, trial.Reference, trialSeam(trial), gapflush.Settings{Noise: trial.Noise, Threads: threads}, nil)
	if err != nil {
		return err
	}
	for i := range r.Stations {
		st := &r.Stations[i]
		t.stations++
		t.gap.add(st.Gap, trial.Gap)
		t.flush.add(st.Flush, trial.Flush)
		if st.State != gapflush.Measured {
			t.states[string(st.State)]++
		}
	}
	return nil
}

// row prints a figure beside its goals and says whether one is missed.
func (t *drawnTally) row(w io.Writer, name, figure string, e *errorsOf, goal float64) (missed bool) {
	p95, u := percentile(e.errors, 0.95), percentile(e.us, 0.5)
	inside := float64(e.inside) / float64(max(e.given, 1))
	missed = e.given == 0 || p95 > goal || inside < stationInsideGoal || u > widthLimit*p95 || e.wrong > 0
	mark := ""
	if missed {
		mark = "MISSED"
	}
	fmt.Fprintf(w, "%s\t%s\t%d\t%.1f %%\t%.4f\t%.2f\t%.1f %%\t%.3f\t%.2f\t%d\t%s\t%s\n", name, figure, t.stations, 100*float64(e.given)/float64(max(t.stations, 1)),
		p95, goal, 100*inside, u, u/p95, e.wrong, mark, counts(t.states, t.stations))
	return missed
}

// runDrawn prints the goal table over seeds, so many seams a case and seed.
func runDrawn(ctx context.Context, out io.Writer, seeds []int, seams, threads int) (missed bool, err error) {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "seams drawn at random\tfigure\tstations\tgiven\tp95 mm\tgoal\tinside U (goal %.0f %%)\tmedian U\tover p95 (goal %.1f)\tbeyond 3 U\t\tno gap\n", 100*stationInsideGoal, widthLimit)
	for _, c := range drawnCases() {
		t := &drawnTally{states: map[string]int{}}
		for _, seed := range seeds {
			for i := range seams {
				if err := t.try(ctx, c.trial(drawnSeed(seed, i)), threads); err != nil {
					return true, fmt.Errorf("%s, seed %d, seam %d: %w", c.name, seed, i, err)
				}
			}
		}
		missed = t.row(w, c.name, "gap", &t.gap, c.gap) || missed
		missed = t.row(w, "", "flush", &t.flush, c.flush) || missed
	}
	return missed, w.Flush()
}

// refusedLimit is the share of measurable stations that may be refused.
const refusedLimit = 0.1

// runBad prints what comes of scans, seams and statements that are not as they should be.
func runBad(ctx context.Context, out io.Writer, seeds []int, seams, threads int) (missed bool, err error) {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintln(w, "what is not as it should be\tstations\tgap given\tinside U\tmedian U\tbeyond 3 U\tflush given\tinside U\tbeyond 3 U\tworst of U\tno gap")
	all := &drawnTally{states: map[string]int{}}
	measurable, refused := 0, 0
	for _, kind := range bodywork.BadKinds() {
		t := &drawnTally{states: map[string]int{}}
		for _, seed := range seeds {
			for i := range seams {
				if err := t.try(ctx, kind.Make(drawnSeed(seed, i)), threads); err != nil {
					return true, fmt.Errorf("%s, seed %d, seam %d: %w", kind.Name, seed, i, err)
				}
			}
		}
		name := kind.Name
		if kind.Measurable {
			measurable += t.stations
			refused += t.stations - t.gap.given
			name += " *"
		}
		t.badRow(w, name)
		all.merge(t)
	}
	all.badRow(w, "all")
	if err := w.Flush(); err != nil {
		return true, err
	}
	share := float64(refused) / float64(max(measurable, 1))
	fmt.Fprintf(out, "wrong numbers, beyond 3 U: %d gaps and %d flushes (goal: none)\nmeasurable stations (*) refused: %.1f %% of %d (goal: at most %.0f %%)\n",
		all.gap.wrong, all.flush.wrong, 100*share, measurable, 100*refusedLimit)
	return all.gap.wrong > 0 || all.flush.wrong > 0 || share > refusedLimit, nil
}

func (t *drawnTally) merge(o *drawnTally) {
	t.stations += o.stations
	t.gap.merge(&o.gap)
	t.flush.merge(&o.flush)
	for k, n := range o.states {
		t.states[k] += n
	}
}

func (e *errorsOf) merge(o *errorsOf) {
	e.share.merge(&o.share)
	e.errors, e.us = append(e.errors, o.errors...), append(e.us, o.us...)
}

func (t *drawnTally) badRow(w io.Writer, name string) {
	of := func(n, all int) float64 { return 100 * float64(n) / float64(max(all, 1)) }
	fmt.Fprintf(w, "%s\t%d\t%.0f %%\t%.0f %%\t%.3f\t%d\t%.0f %%\t%.0f %%\t%d\t%.1f\t%s\n", name, t.stations, of(t.gap.given, t.stations), of(t.gap.inside, t.gap.given),
		percentile(t.gap.us, 0.5), t.gap.wrong, of(t.flush.given, t.stations), of(t.flush.inside, t.flush.given), t.flush.wrong, max(t.gap.worst, t.flush.worst), counts(t.states, t.stations))
}

// drawnSeed is the seed of a seam of a run.
func drawnSeed(seed, i int) uint64 { return uint64(seed)*1000 + uint64(i) }
