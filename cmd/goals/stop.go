package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"text/tabwriter"
	"time"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/demo"
	"shutline/app/inspection"
	"shutline/mesh"
	"shutline/mesh/meshio"
)

// The goal of stopping: work that is told to stop lets go within this.
const stopGoal = 200 * time.Millisecond

// stopOptions are the flags of `goals stop`.
type stopOptions struct {
	size, stops int
	dir         string
	what        []string
}

// stopMain stops every long work at moments spread over it, and measures how long it takes to let go.
func stopMain(args []string) {
	set := flag.NewFlagSet("goals stop", flag.ExitOnError)
	size := set.Int("size", 2_000_000, "triangles of the demo's scan, and of the scans in pieces")
	stops := set.Int("stops", 20, "how often each work is stopped")
	dir := set.String("dir", filepath.Join(os.TempDir(), "shutline-stop"), "folder that keeps what is written")
	what := set.String("what", "", "works to stop, by their first words; left out: all")
	_ = set.Parse(args) // it ends the program itself
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	missed, err := runStop(ctx, stopOptions{*size, *stops, *dir, strings.Fields(*what)})
	stop()
	end(missed, err)
}

// stopWork is a work that takes long.
type stopWork struct {
	name string
	do   func(context.Context, app.Progress) error
}

func runStop(ctx context.Context, o stopOptions) (missed bool, err error) {
	works, err := stopWorks(ctx, o)
	if err != nil {
		return true, err
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Printf("work on %d triangles, and how long each takes; stops; ms until it lets go: the middle, the most, of the processors meanwhile; the goal; what the longest was at\n", o.size)
	for _, work := range works {
		if len(o.what) > 0 && !slices.ContainsFunc(o.what, func(s string) bool { return strings.HasPrefix(work.name, s) }) {
			continue
		}
		m, err := stopAll(ctx, work, o, w)
		if err != nil {
			return true, fmt.Errorf("%s: %w", work.name, err)
		}
		missed = missed || m
		w.Flush()
	}
	return missed, nil
}

// stopped is how one stop went.
type stopped struct {
	took, worked time.Duration // until it let go; of the processors meanwhile, 0 where the system does not tell
	doing        string        // what it said it was doing
	at           string        // our functions that were running when half of the goal had passed
}

// goes is how long it takes at the most on a machine that does nothing else: as long as at least one thread is at work.
func (s stopped) goes() time.Duration {
	if s.worked > 0 {
		return min(s.took, s.worked)
	}
	return s.took
}

// stopAll runs a work once as a whole, then stops it at moments spread evenly over that time.
func stopAll(ctx context.Context, work stopWork, o stopOptions, w *tabwriter.Writer) (missed bool, err error) {
	from := time.Now()
	if err := work.do(ctx, nil); err != nil {
		return true, err
	}
	whole := time.Since(from)
	var list []stopped
	for k := range o.stops {
		s, in, err := stopOnce(ctx, work, whole*time.Duration(2*k+1)/time.Duration(2*o.stops))
		if err != nil {
			return true, err
		}
		if in {
			list = append(list, s)
		}
	}
	if len(list) == 0 {
		fmt.Fprintf(w, "%s\t%.2f\t0\n", work.name, whole.Seconds())
		return false, nil
	}
	slices.SortFunc(list, func(a, b stopped) int { return int(a.goes() - b.goes()) })
	most := list[len(list)-1]
	missed = most.goes() > stopGoal
	fmt.Fprintf(w, "%s\t%.2f\t%d\t%.0f\t%.0f\t%.0f\t%.0f%s\t%s\t%s\n", work.name, whole.Seconds(), len(list), millis(list[len(list)/2].took), millis(most.took), millis(most.worked),
		millis(stopGoal), map[bool]string{true: "  MISSED"}[missed], most.doing, most.at)
	for _, s := range list[:len(list)-1] {
		if s.goes() > stopGoal/2 {
			fmt.Fprintf(w, "\t\t\t\t%.0f\t%.0f\t\t%s\t%s\n", millis(s.took), millis(s.worked), s.doing, s.at)
		}
	}
	return missed, nil
}

func millis(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// stopOnce stops a work after a time; in: it was not done by then.
func stopOnce(ctx context.Context, work stopWork, after time.Duration) (s stopped, in bool, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var doing atomic.Value
	doing.Store("")
	done := make(chan error, 1)
	runtime.GC()
	go func() { done <- work.do(ctx, func(what string, _ float64) { doing.Store(what) }) }()
	select {
	case err := <-done:
		return s, false, err
	case <-time.After(after):
	}
	from, before := time.Now(), processorTime()
	s.doing = doing.Load().(string)
	cancel()
	select {
	case err = <-done:
	case <-time.After(stopGoal / 2):
		s.at = ourFunctions()
		err = <-done
	}
	s.took, s.worked = time.Since(from), processorTime()-before
	if !errors.Is(err, context.Canceled) {
		return s, false, err
	}
	return s, true, nil
}

// ourFunctions names the innermost of the project's functions that goroutines are at, this program's own left out.
func ourFunctions() string {
	buf := make([]byte, 1<<20)
	var names []string
	for stack := range bytes.SplitSeq(buf[:runtime.Stack(buf, true)], []byte("\n\n")) {
		for line := range bytes.Lines(stack) {
			name, ours := strings.CutPrefix(strings.TrimSpace(string(line)), "shutline/")
			if !ours || strings.Contains(name, ".go:") {
				continue
			}
			if at := strings.LastIndexByte(name, '('); at > 0 {
				name = name[:at]
			}
			if !strings.HasPrefix(name, "mesh/parallel") && !slices.Contains(names, name) {
				names = append(names, name)
			}
			break
		}
	}
	return strings.Join(names, " ")
}

// stopDemos writes the demo's two jobs where they are not yet, and returns their folders.
func stopDemos(ctx context.Context, o stopOptions) (one, many string, err error) {
	one, many = filepath.Join(o.dir, fmt.Sprintf("demo-%d", o.size)), filepath.Join(o.dir, fmt.Sprintf("scans-%d", o.size))
	for dir, write := range map[string]func() error{
		one:  func() error { return demo.Write(ctx, one, demo.Options{Size: o.size}, nil) },
		many: func() error { return demo.WriteScans(ctx, many, demo.Options{Size: o.size}, nil) },
	} {
		if _, err := os.Stat(dir); err == nil {
			continue
		}
		fmt.Fprintln(os.Stderr, "writing", dir)
		if err := write(); err != nil {
			return one, many, err
		}
	}
	return one, many, nil
}

// stopWorks prepares the works that the window and the headless command can be told to stop.
func stopWorks(ctx context.Context, o stopOptions) ([]stopWork, error) {
	one, many, err := stopDemos(ctx, o)
	if err != nil {
		return nil, err
	}
	job, err := stopJob(one)
	if err != nil {
		return nil, err
	}
	pieces, err := inspection.Read(filepath.Join(many, demo.EndScan+".toml"))
	if err != nil {
		return nil, err
	}
	round, err := inspection.Read(filepath.Join(many, demo.GoodScan+".toml"))
	if err != nil {
		return nil, err
	}
	again, err := inspection.Read(filepath.Join(many, demo.PoorScan+".toml"))
	if err != nil {
		return nil, err
	}
	fmt.Fprintln(os.Stderr, "working the demo through")
	whole, err := app.Inspect(ctx, job, app.Settings{}, nil)
	if err != nil {
		return nil, err
	}
	s, typed := bench.Production(), *job
	typed.Seams = typed.Seams[:1]
	list := []stopWork{
		{"making the demo", func(ctx context.Context, p app.Progress) error {
			return demo.Write(ctx, filepath.Join(o.dir, "made"), demo.Options{Size: o.size, Replace: true}, func(share float64) { tell(p, "making", share) })
		}},
		{"open", func(ctx context.Context, p app.Progress) error {
			_, err := s.LoadParts(ctx, job, app.Settings{}, p)
			return err
		}},
		{"examine", func(ctx context.Context, p app.Progress) error {
			_, err := s.Examine(ctx, whole.Parts, app.Settings{}, p)
			return err
		}},
		{"place", func(ctx context.Context, p app.Progress) error {
			_, err := s.Place(ctx, job, whole.Parts, app.Settings{}, p)
			return err
		}},
		{"surface", func(ctx context.Context, p app.Progress) error {
			_, err := s.Compare(ctx, job, whole.Parts, whole.Placed, app.Settings{}, p)
			return err
		}},
		{"trust", func(ctx context.Context, p app.Progress) error {
			_, err := s.Trust(ctx, job, whole.Parts, whole.Placed, whole.Compared, app.Settings{}, p)
			return err
		}},
		{"find seams", func(ctx context.Context, p app.Progress) error {
			_, err := s.FindSeams(ctx, &typed, whole.Parts, whole.Placed, app.Settings{}, p)
			return err
		}},
		{"lay seams", func(ctx context.Context, p app.Progress) error {
			_, _, err := s.LaySeams(ctx, job, whole.Parts, whole.Placed, app.Settings{}, p)
			return err
		}},
		{"measure seam", func(ctx context.Context, p app.Progress) error {
			_, err := s.MeasureSeam(ctx, job, whole.Inspection.Seams[0], whole.Parts, whole.Placed, app.Settings{}, p)
			return err
		}},
		{"sections", func(ctx context.Context, p app.Progress) error {
			_, err := s.Sections(ctx, job, whole.Parts, whole.Placed, app.Settings{}, p)
			return err
		}},
		{"write evidence", func(ctx context.Context, p app.Progress) error {
			return s.Write(ctx, whole, filepath.Join(o.dir, "evidence"), app.WriteOptions{Replace: true}, p)
		}},
		{"change between results", func(ctx context.Context, p app.Progress) error {
			_, err := s.Change(ctx, [2]*inspection.Inspection{round, again}, app.Settings{}, p)
			return err
		}},
		{"open pieces", func(ctx context.Context, p app.Progress) error {
			_, err := s.LoadParts(ctx, pieces, app.Settings{}, p)
			return err
		}},
		{"round the van, everything", func(ctx context.Context, p app.Progress) error {
			_, err := app.Inspect(ctx, round, app.Settings{}, p)
			return err
		}},
	}
	read, err := stopReaders(o, whole.Parts.Scan.Mesh)
	return append(list, read...), err
}

// tell reports progress where somebody listens.
func tell(p app.Progress, what string, share float64) {
	if p != nil {
		p(what, share)
	}
}

// stopJob is the demo's inspection with sections, and with seams that are to be found besides those that are drawn.
func stopJob(dir string) (*inspection.Inspection, error) {
	text, err := os.ReadFile(filepath.Join(dir, demo.InspectionFile))
	if err != nil {
		return nil, err
	}
	more := "\n[[seam]]\nname = \"found\"\nfind = true\nmaster = \"A\"\n\n[[section]]\nname = \"row\"\naxis = \"x\"\nfrom = 300\nto = 1500\nevery = 50\n"
	path := filepath.Join(dir, "stop.toml")
	if err := os.WriteFile(path, append(text, more...), 0o644); err != nil {
		return nil, err
	}
	return inspection.Read(path)
}

// stopReaders reads the scan from every other format.
func stopReaders(o stopOptions, m *mesh.Mesh) (list []stopWork, err error) {
	for _, name := range []string{"text.stl", "binary.ply", "text.ply", "text.obj", "binary.glb"} {
		path := filepath.Join(o.dir, fmt.Sprintf("%d-%s", o.size, name))
		if _, err := os.Stat(path); err != nil {
			fmt.Fprintln(os.Stderr, "writing", path)
			if err := writeAs(path, name, m); err != nil {
				return nil, err
			}
		}
		list = append(list, stopWork{"read " + name, func(ctx context.Context, p app.Progress) error {
			_, err := meshio.Read(ctx, path, meshio.Options{Unit: "mm", Progress: func(share float64) { tell(p, "reading", share) }})
			return err
		}})
	}
	return list, nil
}
