package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"strings"
	"text/tabwriter"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
)

// The goals of stations: what is given lies within U in so many of a hundred
// cases, and never beyond so many U.
const (
	stationInsideGoal = 0.95
	stationWrongLimit = 3.0
)

// stationsMain tries stations on every kind of seam the generator makes.
func stationsMain(args []string) {
	set := flag.NewFlagSet("goals stations", flag.ExitOnError)
	seeds := set.String("seeds", "1 2 3", "seeds of the trials, separated by blanks")
	threads := set.Int("threads", 0, "threads, 0: all processors")
	only := set.String("only", "", "kinds whose name holds this")
	every := set.Float64("every", 0, "mm between stations, 0: as each kind has it")
	each := set.Bool("each", false, "a line for every single kind")
	_ = set.Parse(args) // it ends the program itself
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	missed, err := runStations(ctx, os.Stdout, numbers(*seeds), *only, *every, *each, *threads)
	stop()
	end(missed, err)
}

// share counts how a figure of some stations compares with the truth.
type share struct {
	given, inside, wrong int
	worst                float64 // error over U
	sum, wide            float64 // mm, of errors and of U
}

func (s *share) add(v verdict.Value, want float64) {
	if !v.OK {
		return
	}
	e := v.V - want
	s.given++
	s.sum += e
	s.wide += v.U
	if math.Abs(e) <= v.U {
		s.inside++
	}
	if math.Abs(e) > stationWrongLimit*v.U {
		s.wrong++
	}
	s.worst = max(s.worst, math.Abs(e)/v.U)
}

func (s *share) merge(o *share) {
	s.given += o.given
	s.inside += o.inside
	s.wrong += o.wrong
	s.worst = max(s.worst, o.worst)
	s.sum += o.sum
	s.wide += o.wide
}

func (s *share) String() string {
	if s.given == 0 {
		return "-\t-\t-\t-"
	}
	n := float64(s.given)
	return fmt.Sprintf("%.0f %%\t%.2f\t%+.3f\t%.3f", 100*float64(s.inside)/n, s.worst, s.sum/n, s.wide/n)
}

func (s *share) reached() bool {
	return s.wrong == 0 && float64(s.inside) >= stationInsideGoal*float64(s.given)
}

// stationTally is what one row of the table says.
type stationTally struct {
	stations   int
	gap, flush share
	states     map[string]int
	notes      int
}

func newTally() *stationTally { return &stationTally{states: map[string]int{}} }

func (t *stationTally) add(st *gapflush.Station, gap, flush float64) {
	t.stations++
	t.gap.add(st.Gap, gap)
	t.flush.add(st.Flush, flush)
	if st.State != gapflush.Measured {
		t.states[string(st.State)]++
	}
}

func (t *stationTally) merge(o *stationTally) {
	t.stations += o.stations
	t.gap.merge(&o.gap)
	t.flush.merge(&o.flush)
	for k, n := range o.states {
		t.states[k] += n
	}
	t.notes += o.notes
}

func (t *stationTally) row(out io.Writer, name string) {
	mark := ""
	if !t.gap.reached() || !t.flush.reached() {
		mark = "MISSED"
	}
	fmt.Fprintf(out, "%s\t%d\t%.0f %%\t%s\t%.0f %%\t%s\t%d\t%s\t%s\n", name, t.stations,
		100*float64(t.gap.given)/float64(t.stations), &t.gap, 100*float64(t.flush.given)/float64(t.stations), &t.flush, t.notes, mark, counts(t.states, t.stations))
}

// runStations tries stations on every kind of seam whose name holds only, over
// seeds, every so many mm unless 0, and prints a table; each adds a line for every single kind.
func runStations(ctx context.Context, out io.Writer, seeds []int, only string, every float64, each bool, threads int) (missed bool, err error) {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintln(w, "kind of seam\tstations\tgap given\tinside U\tworst\tbias\tU\tflush given\tinside U\tworst\tbias\tU\tnotes\t\tno gap")
	all := newTally()
	for _, row := range bodywork.Trials() {
		sum := newTally()
		for _, kind := range row.Kinds {
			if only != "" && !strings.Contains(row.Name+", "+kind.Name, only) {
				continue
			}
			one := newTally()
			for _, seed := range seeds {
				if err := one.try(ctx, kind.Make(uint64(seed)), every, threads); err != nil {
					return true, fmt.Errorf("%s, %s: %w", row.Name, kind.Name, err)
				}
			}
			if each {
				one.row(w, row.Name+", "+kind.Name)
			}
			sum.merge(one)
		}
		if sum.stations == 0 {
			continue
		}
		if !each {
			sum.row(w, row.Name)
		}
		all.merge(sum)
	}
	apart := []float64{25, 5}
	if every > 0 {
		apart = []float64{every}
	}
	for _, every := range apart {
		name := fmt.Sprintf("van with character line, every %g mm", every)
		if only != "" && !strings.Contains(name, only) {
			continue
		}
		t, err := vanStations(ctx, seeds, every, threads)
		if err != nil {
			return true, err
		}
		t.row(w, name)
		all.merge(t)
	}
	if all.stations > 0 {
		all.row(w, "all")
	}
	w.Flush()
	return !all.gap.reached() || !all.flush.reached(), nil
}

// trialSeam is what is stated of a trial.
func trialSeam(t *bodywork.Trial) gapflush.Seam {
	s := gapflush.DefaultSeam("trial", t.Path)
	s.Every, s.Radius = t.Every, t.Radius
	for k, f := range t.Form {
		s.Edges[k] = map[bodywork.Form]gapflush.EdgeKind{bodywork.Round: gapflush.Round, bodywork.Chamfered: gapflush.Chamfer, bodywork.SharpCorner: gapflush.Sharp}[f]
	}
	return s
}

func (t *stationTally) try(ctx context.Context, trial *bodywork.Trial, every float64, threads int) error {
	seam := trialSeam(trial)
	if every > 0 {
		seam.Every = every
	}
	r, err := gapflush.Measure(ctx, trial.Scan, trial.Reference, seam, gapflush.Settings{Noise: trial.Noise, Threads: threads}, nil)
	if err != nil {
		return err
	}
	t.notes += len(r.Notes)
	for i := range r.Stations {
		t.add(&r.Stations[i], trial.Gap, trial.Flush)
	}
	return nil
}

// vanStations measures the van's seams with stations so close that some lie on
// its character line, at the true placement; nominals count as flush of the drawing.
func vanStations(ctx context.Context, seeds []int, every float64, threads int) (*stationTally, error) {
	t := newTally()
	for _, seed := range seeds {
		job, err := bodywork.Van(ctx, bodywork.Options{Size: 300_000, Seed: uint64(seed), Threads: threads}, nil)
		if err != nil {
			return nil, err
		}
		placed := job.Scan.Moved(job.ReferenceFromScan)
		for _, spec := range job.Seams {
			seam := gapflush.DefaultSeam(spec.Name, spec.Path)
			seam.Master, seam.Every = gapflush.Side(spec.Master), every
			r, err := gapflush.Measure(ctx, placed, job.Reference, seam, gapflush.Settings{Threads: threads}, nil)
			if err != nil {
				return nil, err
			}
			truth := job.StationsAt(spec, every)
			for i := range r.Stations {
				t.add(&r.Stations[i], truth[i].Gap, truth[i].Flush)
			}
		}
	}
	return t, nil
}
