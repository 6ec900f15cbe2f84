package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/signal"
	"strings"
	"text/tabwriter"
	"time"

	"shutline/deviation/align"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// The goals of the placement.
const (
	// accuracyGoal in mm is the greatest displacement over a part of 2.4 m. With noise of 0.03 mm correlated over 6 mm, least
	// squares weighted by area, of the whole of the van's side and from the truth, are off by 0.012 mm in the median, 0.027 mm in
	// one of twenty and 0.034 mm in one of a hundred scans (covariance A⁻¹BA⁻¹, A = Σ a JJᵀ, B = Σ Σ a a' ρ JJ'ᵀ): there
	// the goal is missed by what the scan shows, not by the fit.
	accuracyGoal  = 0.02
	insideLeast   = 0.90
	insideMost    = 0.99
	insideRuns    = 100 // fewer may all lie inside by chance
	speedGoal     = 2.0 // s
	accuracyNoise = 0.03
	smoothLength  = 6.0 // mm
)

// placementOptions are the flags of `goals placement`.
type placementOptions struct {
	sections, parts, coverage, clutter string
	references, accurateParts          string
	from                               int
	runs, points, threads              int
	seed                               uint64
	only                               int
	verbose                            bool
}

// placementMain runs the goals of the placement.
func placementMain(args []string) {
	var o placementOptions
	f := flag.NewFlagSet("goals placement", flag.ExitOnError)
	f.StringVar(&o.sections, "sections", "success accuracy speed", "what to measure")
	f.StringVar(&o.parts, "parts", "van bracket smooth", "parts of success: van, bracket, smooth, van-damaged, van-whole, smooth-bent, van-mirrored, bracket-mirrored, smooth-mirrored")
	f.StringVar(&o.coverage, "coverage", "100 60 40", "percent of the part's area that was scanned")
	f.StringVar(&o.clutter, "clutter", "0 20", "percent of the points that are foreign")
	f.StringVar(&o.references, "references", "20000 60000 200000", "triangles of the reference that accuracy is measured on")
	f.StringVar(&o.accurateParts, "accurate", "smooth van-whole", "parts of accuracy")
	f.IntVar(&o.from, "from", 0, "number of the first run of each cell: a hundred runs made in parts are the same hundred")
	f.IntVar(&o.runs, "runs", 100, "random scans in each cell")
	f.IntVar(&o.points, "points", 200000, "scan points")
	f.IntVar(&o.threads, "threads", 0, "threads, 0: all processors")
	f.Uint64Var(&o.seed, "seed", 0, "0: drawn at random and printed")
	f.IntVar(&o.only, "only", -1, "make this run of each cell alone")
	f.BoolVar(&o.verbose, "v", false, "print every run")
	_ = f.Parse(args) // it ends the program itself
	if o.seed == 0 {
		o.seed = rand.Uint64()>>1 + 1
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	missed, err := o.measure(ctx)
	stop()
	end(missed, err)
}

// measure prints the sections that the options name.
func (o *placementOptions) measure(ctx context.Context) (missed bool, err error) {
	fmt.Printf("seed %d, runs %d to %d of each cell, %d points\n", o.seed, o.from, o.from+o.runs-1, o.points)
	t := &table{w: tabwriter.NewWriter(os.Stdout, 0, 4, 2, ' ', 0)}
	for _, s := range strings.Fields(o.sections) {
		var err error
		switch s {
		case "success":
			err = o.success(ctx, t)
		case "accuracy":
			err = o.accuracy(ctx, t)
		case "speed":
			err = o.speed(ctx, t)
		default:
			err = fmt.Errorf("there is no section %q, only success, accuracy and speed", s)
		}
		if err != nil {
			return true, err
		}
	}
	return t.missed, nil
}

// partsNamed returns the parts of a list of names.
func partsNamed(names string) ([]placePart, error) {
	var out []placePart
next:
	for _, name := range strings.Fields(names) {
		for _, p := range placeParts() {
			if p.name == name {
				out = append(out, p)
				continue next
			}
		}
		return nil, fmt.Errorf("there is no part %q", name)
	}
	return out, nil
}

// cell makes all runs of one case; its seeds depend on the case's name and the
// run alone, so that a run can be made again by itself.
func (o *placementOptions) cell(ctx context.Context, c scanCase, name string, ref *surface.Surface, box geom.Box) ([]placedRun, error) {
	var runs []placedRun
	start := time.Now()
	for k := o.from; k < o.from+o.runs; k++ {
		if o.only >= 0 && k != o.only {
			continue
		}
		seed := o.seed
		for _, b := range []byte(fmt.Sprint(name, k)) {
			seed = (seed ^ uint64(b)) * 0x100000001b3
		}
		r, err := placeOne(ctx, c, ref, box, seed, o.threads)
		if err != nil {
			return nil, fmt.Errorf("%s, run %d: %w", name, k, err)
		}
		if o.verbose || r.outcome > named {
			fmt.Printf("%s, run %d: %s, off %.4f mm, error over sigma %.2f, rms %.4f, used %.2f, %.1f s\n", name, k, outcomeNames[r.outcome], r.off, r.beyond, r.p.RMS, r.p.ShareUsed, r.seconds)
			if r.err != nil {
				fmt.Println("   ", r.err)
			}
			for _, n := range r.p.Notes {
				fmt.Println("   ", n)
			}
		}
		runs = append(runs, r)
		if len(runs)%progressEvery == 0 {
			fmt.Fprintf(os.Stderr, "%s: %d of %d runs in %.0f s\n", name, len(runs), o.runs, time.Since(start).Seconds())
		}
	}
	return runs, nil
}

// progressEvery is after how many runs it is said how far a cell is.
const progressEvery = 10

const referenceTriangles = 200000

// indexed returns the part's reference and its box.
func indexed(ctx context.Context, p placePart, triangles, threads int) (*surface.Surface, geom.Box, error) {
	m, err := p.reference(ctx, triangles)
	if err != nil {
		return nil, geom.Box{}, err
	}
	s, err := surface.New(ctx, m, threads, nil)
	return s, m.Bounds(), err
}

func (o *placementOptions) success(ctx context.Context, t *table) error {
	parts, err := partsNamed(o.parts)
	if err != nil {
		return err
	}
	fmt.Fprintf(t.w, "\npart\tcoverage\tclutter\twithin 1 mm\tnamed\tambiguous\trefused\tWRONG\terror p50\tp95\tlargest\tin 95 %% region\tseconds p50\tp95\tby borders\t\n")
	for _, p := range parts {
		ref, box, err := indexed(ctx, p, referenceTriangles, o.threads)
		if err != nil {
			return err
		}
		for _, coverage := range numbers(o.coverage) {
			for _, clutter := range numbers(o.clutter) {
				c := scanCase{part: p, points: o.points, coverage: float64(coverage) / 100, clutter: float64(clutter) / 100, noise: accuracyNoise}
				runs, err := o.cell(ctx, c, c.String(), ref, box)
				if err != nil {
					return err
				}
				t.cell(p.name, coverage, clutter, runs)
				if err := t.w.Flush(); err != nil { // what is known is seen, should the rest be stopped
					return err
				}
			}
		}
	}
	return t.w.Flush()
}

// cell prints one cell of the table of successes.
func (t *table) cell(part string, coverage, clutter int, runs []placedRun) {
	var count [wrong + 1]int
	var off, seconds []float64
	inside, borders := 0, 0
	for _, r := range runs {
		count[r.outcome]++
		seconds = append(seconds, r.seconds)
		if r.outcome == within {
			off = append(off, r.off)
		}
		if r.inside {
			inside++
		}
		if len(r.p.Borders) > 0 {
			borders++
		}
	}
	mark := "reached"
	if count[within]+count[named] < len(runs) {
		mark, t.missed = "MISSED", true
	}
	fmt.Fprintf(t.w, "%s\t%d %%\t%d %%\t%d of %d\t%d\t%d\t%d\t%d\t%.4f\t%.4f\t%.4f\t%d\t%.2f\t%.2f\t%d\t%s\n", part, coverage, clutter, count[within], len(runs), count[named], count[ambiguous], count[refused], count[wrong],
		percentile(off, 0.5), percentile(off, 0.95), percentile(off, 1), inside, percentile(seconds, 0.5), percentile(seconds, 0.95), borders, mark)
}

func (o *placementOptions) accuracy(ctx context.Context, t *table) error {
	fmt.Fprintf(t.w, "\naccuracy, full coverage, noise %.2f mm\tmeasured\tgoal\t\n", accuracyNoise)
	parts, err := partsNamed(o.accurateParts)
	if err != nil {
		return err
	}
	for _, p := range parts {
		for _, triangles := range numbers(o.references) {
			ref, box, err := indexed(ctx, p, triangles, o.threads)
			if err != nil {
				return err
			}
			// A coarse scan comes with a coarse reference; more points than these show nothing more.
			c := scanCase{part: p, points: min(o.points, triangles), coverage: 1, noise: accuracyNoise}
			for _, kind := range []noiseKind{{"independent noise", 0}, {fmt.Sprintf("noise correlated over %.0f mm", smoothLength), smoothLength}} {
				c.kind = kind
				if err := o.accurate(ctx, t, c, fmt.Sprintf("%s, %d triangles, %s", p.name, triangles, kind.name), ref, box, triangles >= referenceTriangles); err != nil {
					return err
				}
			}
		}
	}
	return t.w.Flush()
}

// accurate makes the runs of one case; fine: the reference is fine enough for the goal of accuracy.
func (o *placementOptions) accurate(ctx context.Context, t *table, c scanCase, name string, ref *surface.Surface, box geom.Box, fine bool) error {
	runs, err := o.cell(ctx, c, name, ref, box)
	if err != nil {
		return err
	}
	var off []float64
	inside := 0
	beyond := 0.0
	for _, r := range runs {
		if r.err == nil {
			off = append(off, r.off)
		}
		if r.inside {
			inside++
		}
		beyond += r.beyond * r.beyond / float64(len(runs))
	}
	worst := percentile(off, 1)
	goal, reached := fmt.Sprintf("%.2f mm", accuracyGoal), len(off) == len(runs) && worst <= accuracyGoal
	if !fine {
		goal, reached = "none", len(off) == len(runs)
	}
	t.row(name+": greatest displacement", fmt.Sprintf("p50 %.4f, p95 %.4f, largest %.4f mm", percentile(off, 0.5), percentile(off, 0.95), worst), goal, reached)
	share := float64(inside) / float64(max(len(runs), 1))
	t.row(name+": truth inside the 95 % region", fmt.Sprintf("%d of %d (mean square of error over sigma %.2f)", inside, len(runs), beyond),
		fmt.Sprintf("%.0f to %.0f %%", 100*insideLeast, 100*insideMost), share >= insideLeast && (share <= insideMost || len(runs) < insideRuns))
	return t.w.Flush()
}

// speedRuns are enough to tell a slow placement from a busy machine.
const speedRuns = 5

func (o *placementOptions) speed(ctx context.Context, t *table) error {
	fmt.Fprintf(t.w, "\nspeed, a million points on a million triangles\tmeasured\tgoal\t\n")
	for _, p := range placeParts() {
		if p.name != "smooth" && p.name != "van" {
			continue
		}
		m, err := p.reference(ctx, 1000000)
		if err != nil {
			return err
		}
		c := scanCase{part: p, points: 1000000, coverage: 1, noise: accuracyNoise}
		scan, scanFromReference, err := c.make(ctx, m.Bounds(), o.seed)
		if err != nil {
			return err
		}
		var index, whole []float64
		off := 0.0
		for range min(o.runs, speedRuns) {
			start := time.Now()
			s, err := surface.New(ctx, m, o.threads, nil)
			if err != nil {
				return err
			}
			index = append(index, time.Since(start).Seconds())
			placed, err := align.BestFit(ctx, scan, s, align.Settings{Threads: o.threads}, nil)
			if err != nil {
				return err
			}
			whole = append(whole, time.Since(start).Seconds())
			off = geom.MaxDisplacement(placed.ReferenceFromScan.After(scanFromReference), geom.Identity(), m.Bounds())
		}
		fastest, median := percentile(whole, 0), percentile(whole, 0.5)
		t.row(fmt.Sprintf("%s, %d points on %d triangles", p.name, len(scan.Vertices), len(m.Faces)),
			fmt.Sprintf("median %.2f s, fastest %.2f s, of it the index %.2f s (off by %.4f mm)", median, fastest, percentile(index, 0), off),
			fmt.Sprintf("%.0f s", speedGoal), median <= speedGoal)
	}
	return t.w.Flush()
}
