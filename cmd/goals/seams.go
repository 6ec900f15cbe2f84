package main

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"os/signal"
	"slices"
	"strings"
	"text/tabwriter"

	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/deviation/seampath"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// The goals of finding and tracing: every shut line, none invented, and 95 % of the
// places within so many mm of the gap's middle.
const seamMiddleGoal = 0.5

// onPathWithin is how far a true place may lie from a path that is said to follow its gap, mm.
const onPathWithin = 6.0

// seamsOptions are the flags of `goals seams`.
type seamsOptions struct {
	seeds, sizes   []int
	seams, threads int
}

// seamsParts are what `goals seams` can measure; each prints a table of its own and reports whether a goal was missed.
var seamsParts = []struct {
	name    string
	measure func(ctx context.Context, o *seamsOptions) (missed bool, err error)
}{
	{"drawn", func(ctx context.Context, o *seamsOptions) (bool, error) {
		return runDrawn(ctx, os.Stdout, o.seeds, o.seams, o.threads)
	}},
	{"repeat", func(ctx context.Context, o *seamsOptions) (bool, error) {
		return runRepeat(ctx, os.Stdout, o.seeds, o.threads)
	}},
	{"bad", func(ctx context.Context, o *seamsOptions) (bool, error) {
		return runBad(ctx, os.Stdout, o.seeds, (o.seams+4)/5, o.threads)
	}},
	{"found", func(ctx context.Context, o *seamsOptions) (bool, error) {
		return runSeams(ctx, o.seeds, o.sizes, o.threads)
	}},
	{"speed", func(ctx context.Context, o *seamsOptions) (bool, error) {
		return runSeamSpeed(ctx, os.Stdout, speedSize, o.seeds[0], o.threads)
	}},
}

// seamsMain measures the goals of seams over seeds.
func seamsMain(args []string) {
	var names []string
	for _, p := range seamsParts {
		names = append(names, p.name)
	}
	set := flag.NewFlagSet("goals seams", flag.ExitOnError)
	seeds := set.String("seeds", "1 2 3", "seeds, separated by blanks")
	sizes := set.String("sizes", "40000 300000", "triangles of the scan in which seams are found, separated by blanks")
	seams := set.Int("seams", 30, "seams drawn a case and seed")
	threads := set.Int("threads", 0, "threads, 0: all processors")
	what := set.String("what", "", "what to measure, of "+strings.Join(names, " ")+"; left out: everything")
	_ = set.Parse(args) // it ends the program itself
	wanted := partsOf(*what, names)
	o := &seamsOptions{numbers(*seeds), numbers(*sizes), *seams, *threads}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	missed := false
	var err error
	for _, p := range seamsParts {
		if !slices.Contains(wanted, p.name) {
			continue
		}
		var more bool
		if more, err = p.measure(ctx, o); err != nil {
			break
		}
		missed = missed || more
		fmt.Println()
	}
	stop()
	end(missed, err)
}

// runSeams finds and traces the van's shut lines over seeds, sizes and noises.
func runSeams(ctx context.Context, seeds, sizes []int, threads int) (missed bool, err error) {
	w := tabwriter.NewWriter(os.Stdout, 2, 0, 2, ' ', 0)
	fmt.Fprintf(w, "on\tsize\tnoise\tseed\tfound\tinvented\tplaces missed\tmedian mm\t95 %% (goal %g)\tlargest\ttraced 95 %%\n", seamMiddleGoal)
	for _, size := range sizes {
		for _, noise := range []float64{0.03, 0.1} {
			for _, seed := range seeds {
				job, err := bodywork.Van(ctx, bodywork.Options{Size: size, Seed: uint64(seed), Noise: noise, Threads: threads}, nil)
				if err != nil {
					return true, err
				}
				scanned, err := job.ScanStations(ctx, nil)
				if err != nil {
					return true, err
				}
				for _, c := range []struct {
					name  string
					mesh  *mesh.Mesh
					truth []bodywork.StationTruth
					drawn bool
				}{{"drawing", job.Reference, job.ReferenceStations(), true}, {"scan", job.Scan.Moved(job.ReferenceFromScan), scanned, false}} {
					if c.drawn && (noise != 0.03 || seed != seeds[0]) {
						continue // a drawing has neither
					}
					f, err := trySeams(ctx, job, c.mesh, c.truth, c.drawn, threads)
					if err != nil {
						return true, err
					}
					missed = missed || f.bad()
					fmt.Fprintf(w, "%s\t%d\t%g\t%d\t%d of %d\t%d\t%d\t%.3f\t%.3f\t%.3f\t%.3f\n", c.name, size, noise, seed, f.found, len(job.Seams), f.invented, f.lost,
						percentile(f.off, 0.5), percentile(f.off, 0.95), percentile(f.off, 1), percentile(f.traced, 0.95))
				}
			}
		}
	}
	return missed, w.Flush()
}

// seamFigures are how the van's shut lines were found and traced.
type seamFigures struct {
	found, wanted, invented, lost int
	off, traced                   []float64 // mm beside the gap's middle
}

func (f *seamFigures) bad() bool {
	return f.found != f.wanted || f.invented > 0 || f.lost > 0 || percentile(f.off, 0.95) > seamMiddleGoal || percentile(f.traced, 0.95) > seamMiddleGoal
}

func trySeams(ctx context.Context, job *bodywork.Job, m *mesh.Mesh, truth []bodywork.StationTruth, drawn bool, threads int) (*seamFigures, error) {
	g, err := seamfind.New(ctx, m, threads, nil)
	if err != nil {
		return nil, err
	}
	list, err := g.Find(ctx, seamfind.Settings{Drawn: drawn, Threads: threads}, nil)
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(list, func(s seamfind.Seam) bool { return s.Sure < seamfind.LikelyFrom })
	f := &seamFigures{wanted: len(job.Seams)}
	own := make([]bool, len(list))
	seen := map[string]bool{}
	for _, s := range truth {
		if s.State == string(gapflush.SideMissing) {
			continue
		}
		best, aside := math.Inf(1), 0.0
		for k := range list {
			a, far := asideOf(s, list[k].Path)
			if far < onPathWithin {
				own[k], seen[s.Seam] = true, true
			}
			if far < best {
				best, aside = far, a
			}
		}
		if best > onPathWithin {
			f.lost++
			continue
		}
		f.off = append(f.off, aside)
	}
	f.found = len(seen)
	for _, o := range own {
		if !o {
			f.invented++
		}
	}
	return f, f.trace(ctx, g, job, m, truth, threads)
}

// typedClicks are the two ends of a shut line, 3 mm beside the gap.
func typedClicks(g *seamfind.Ground, seam bodywork.SeamSpec) (clicks []seampath.Click) {
	for k, p := range []geom.Vec{seam.Path[0], seam.Path[len(seam.Path)-1]} {
		p.X += 3 - 6*float64(k)
		u, _ := g.Outward(p)
		clicks = append(clicks, seampath.Click{At: p, Outward: u, Slack: 8})
	}
	return clicks
}

// trace lays paths between the two ends of each shut line, typed 3 mm beside the gap.
func (f *seamFigures) trace(ctx context.Context, g *seamfind.Ground, job *bodywork.Job, m *mesh.Mesh, truth []bodywork.StationTruth, threads int) error {
	on, err := surface.New(ctx, m, threads, nil)
	if err != nil {
		return err
	}
	for _, seam := range job.Seams {
		laid, err := seampath.On(on).Lay(ctx, typedClicks(g, seam))
		if err != nil {
			return err
		}
		out := make([]geom.Vec, len(laid.Points))
		for k, p := range laid.Points {
			out[k], _ = g.Outward(p)
		}
		c, err := g.Centre(ctx, laid.Points, out, threads)
		if err != nil {
			return err
		}
		for _, s := range truth {
			if s.Seam == seam.Name && s.State != string(gapflush.SideMissing) {
				aside, _ := asideOf(s, c.Path)
				f.traced = append(f.traced, aside)
			}
		}
	}
	return nil
}

// asideOf returns how far beside the middle between the true noses a path runs, mm, and how far away in all.
func asideOf(s bodywork.StationTruth, path []geom.Vec) (aside, far float64) {
	mid := s.Nose[0].Lerp(s.Nose[1], 0.5)
	up := s.Shoulder[0].Lerp(s.Shoulder[1], 0.5).Sub(mid).Unit()
	across := s.Nose[1].Sub(s.Nose[0])
	across = across.AddScaled(-across.Dot(up), up).Unit()
	far = math.Inf(1)
	for i := 1; i < len(path); i++ {
		d := path[i].Sub(path[i-1])
		q := path[i-1].Lerp(path[i], min(1, max(0, mid.Sub(path[i-1]).Dot(d)/d.Norm2())))
		if v := q.Sub(mid); v.Norm() < far {
			far, aside = v.Norm(), math.Abs(v.Dot(across))
		}
	}
	return aside, far
}
