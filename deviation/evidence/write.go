package evidence

import (
	"bufio"
	"context"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"sort"
	"time"

	"shutline/deviation/crosscut"

	"shutline/mesh"
)

// Options say how results are written; the zero value works.
type Options struct {
	Replace  bool // allow a folder that holds other results or files
	Threads  int
	Progress mesh.Progress
}

// Write writes a record into dir: every file whole, or none. Files of an earlier
// run that are not written again are removed; what is not ours stays.
//
// The error is a *WriteError, or the context's, and then nothing was changed
// unless renaming itself failed, which the error says.
func Write(ctx context.Context, r *Record, dir string, o Options) error {
	w := &writer{ctx: ctx, r: r, o: o}
	return w.into(dir, w.all)
}

// into lets fill write the files and puts them in place, all or none.
func (w *writer) into(dir string, fill func() error) error {
	dir = filepath.Clean(dir)
	before, err := look(dir)
	if err != nil {
		return err
	}
	if err := before.allows(w.r, dir, w.o.Replace); err != nil {
		return err
	}
	partial, err := partialFolder(dir)
	if err != nil {
		return err
	}
	w.dir, w.to = partial, dir
	err = fill()
	if err == nil {
		err = w.ctx.Err()
	}
	if err == nil {
		err = w.publish(dir, &before)
	}
	if left := os.RemoveAll(partial); err == nil && left != nil {
		err = cannot(partial, "cannot be removed", left)
	}
	if err == nil {
		sweep(dir)
		w.o.Progress.Report(1)
	}
	return err
}

// writer prepares the files in a folder of its own.
type writer struct {
	ctx   context.Context
	r     *Record
	dir   string
	to    string // where they are put when all are there
	o     Options
	files []string
}

func (w *writer) all() error {
	type step struct {
		name string
		data func(*Record) []byte
		has  bool
	}
	for _, s := range []step{
		{"overlaps.csv", joinedOverlaps, w.r.Joined != nil},
		{"pieces.csv", joinedPieces, w.r.Joined != nil},
		{"cycles.csv", joinedCycles, w.r.Joined != nil && len(w.r.Joined.Result.Cycles) > 0},
		{"markers.csv", joinedMarkers, w.r.Joined != nil && len(w.r.Joined.Result.Markers) > 0},
		{"placement.csv", placementTable, w.r.Placement != nil},
		{"placements.csv", placementsTable, w.r.Placements != nil && w.r.Placement != nil},
		{"surface-summary.csv", summaryTable, w.r.Surface != nil},
		{"clusters.csv", clusterTable, w.r.Surface != nil},
		{"points.csv", pointTable, len(w.r.Points) > 0},
		{"stations.csv", stationTable, true},
		{"stations-budget.csv", budgetTable, true},
		{"seams.csv", seamTable, true},
		{"checks.csv", checkTable, len(w.r.Checks) > 0},
		{"paths.csv", pathTable, len(w.r.Paths) > 0},
		{"sections.csv", sectionsTable, len(w.r.Sections) > 0},
		{"lengths.csv", lengthTable, true},
		{"closure.csv", closureTable, tellsOfClosure(w.r.Closure)},
		{"closure-steps.csv", closureStepTable, tellsOfClosure(w.r.Closure) && len(w.r.Closure.Closures) > 0},
		{"drift.csv", driftTable, w.r.Drift != nil},
		{"worth.csv", worthTable, w.r.Growth != nil},
	} {
		if !s.has {
			continue
		}
		if err := w.put(s.name, s.data(w.r)); err != nil {
			return err
		}
	}
	if w.r.Surface != nil {
		err := w.file("surface.csv", func(out io.Writer) error {
			return writeSurface(w.ctx, out, w.r, w.o.Threads, w.o.Progress.Part(0, 0.4))
		})
		if err != nil {
			return err
		}
	}
	if err := w.pictures(); err != nil {
		return err
	}
	if err := w.whatIf(); err != nil {
		return err
	}
	return w.accounts()
}

// accounts writes results.json, with the names of all files, and run.json.
func (w *writer) accounts() error {
	out := resultsOf(w.r, false)
	sort.Strings(w.files)
	out.Files = append(out.Files, w.files...)
	data, err := marshal(out)
	if err != nil {
		return err
	}
	if err := w.put("results.json", data); err != nil {
		return err
	}
	data, err = marshal(runOf(w.r))
	if err != nil {
		return err
	}
	return w.put("run.json", data)
}

type runResult struct {
	Format   int           `json:"format"`
	Tool     string        `json:"tool"`
	Version  string        `json:"version"`
	Started  *string       `json:"started"`
	Written  string        `json:"written"`
	Threads  int           `json:"threads"`
	Go       string        `json:"go"`
	Platform string        `json:"platform"`
	Stages   []stageResult `json:"stages"`
	Unlaid   []unlaid      `json:"not_measured,omitempty"` // seams without a path, sections that the scan has nowhere
}

type unlaid struct {
	Seam    string `json:"seam,omitempty"`
	Section string `json:"section,omitempty"`
	Why     string `json:"why"`
}

type stageResult struct {
	Stage   string `json:"stage"`
	Seconds num    `json:"seconds"`
}

func runOf(r *Record) runResult {
	out := runResult{Format: Format, Tool: toolName, Version: r.Version, Written: time.Now().UTC().Format(time.RFC3339),
		Threads: r.Run.Threads, Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH, Stages: []stageResult{}}
	if !r.Run.Started.IsZero() {
		s := r.Run.Started.UTC().Format(time.RFC3339)
		out.Started = &s
	}
	for _, s := range r.Run.Stages {
		out.Stages = append(out.Stages, stageResult{s.Name, num{s.Seconds, 3, true}})
	}
	for _, seam := range r.Seams {
		if seam.Unlaid != "" {
			out.Unlaid = append(out.Unlaid, unlaid{Seam: seam.Seam.Name, Why: noValue(seam)})
		}
	}
	for _, s := range crosscut.LostOf(r.Sections) {
		out.Unlaid = append(out.Unlaid, unlaid{Section: s.Name, Why: "no value, because " + s.Why})
	}
	return out
}

func (w *writer) put(name string, data []byte) error {
	return w.file(name, func(out io.Writer) error {
		_, err := out.Write(data)
		return err
	})
}

// file writes one file and notes its name. A context's error stays what it is.
func (w *writer) file(name string, fill func(io.Writer) error) error {
	if err := w.ctx.Err(); err != nil {
		return err
	}
	path := filepath.Join(w.dir, name)
	f, err := os.Create(path)
	if err != nil {
		return cannot(filepath.Join(w.to, name), "cannot be written", err)
	}
	b := bufio.NewWriterSize(stopping{f, w.ctx}, 1<<16)
	err = fill(b)
	if err == nil {
		err = b.Flush()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	switch {
	case err != nil && w.ctx.Err() != nil:
		return w.ctx.Err()
	case err != nil:
		return cannot(filepath.Join(w.to, name), "cannot be written", err)
	}
	w.files = append(w.files, name)
	return nil
}

// publish moves the prepared files to where they belong. A new folder appears in
// one rename. In one that exists the old results.json goes first and the new one
// comes last, so a folder with results.json is always whole.
func (w *writer) publish(dir string, before *previous) error {
	if !before.exists {
		if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
			return cannot(dir, "the folder above it cannot be made", err)
		}
		if err := os.Rename(w.dir, dir); err != nil {
			return cannot(dir, "cannot be put in place", err)
		}
		return nil
	}
	last := filepath.Join(dir, "results.json")
	if err := os.Remove(last); err != nil && !os.IsNotExist(err) {
		return cannot(last, "cannot be replaced", err)
	}
	kept := map[string]bool{}
	for _, name := range w.files {
		kept[name] = true
		if name == "results.json" {
			continue
		}
		if err := os.Rename(filepath.Join(w.dir, name), filepath.Join(dir, name)); err != nil {
			return cannot(filepath.Join(dir, name), "cannot be put in place, so the folder's results are not complete", err)
		}
	}
	for _, name := range before.files {
		if kept[name] {
			continue
		}
		if err := os.Remove(filepath.Join(dir, name)); err != nil && !os.IsNotExist(err) {
			return cannot(filepath.Join(dir, name), "is left from an earlier run and cannot be removed", err)
		}
	}
	if err := os.Rename(filepath.Join(w.dir, "results.json"), last); err != nil {
		return cannot(last, "cannot be put in place, so the folder's results are not complete", err)
	}
	return nil
}
