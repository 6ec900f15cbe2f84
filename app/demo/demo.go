// Package demo writes the demo job: a made-up parcel van's left side as drawn
// and as scanned with a replacement wing that does not quite fit, the
// inspection file that judges it, and beside them the truth that any
// measurement must find.
package demo

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

// The files of a demo job.
const (
	ScanFile          = "scan.stl"
	ReferenceFile     = "reference.stl"
	InspectionFile    = "inspection.toml"
	TruthFile         = "truth.json"
	TruthSurfaceFile  = "truth-surface.csv"
	TruthStationsFile = "truth-stations.csv"
)

// ErrNotEmpty says that the output folder holds something already.
var ErrNotEmpty = errors.New("the folder is not empty")

// ErrWrite says that a file could not be written.
var ErrWrite = errors.New("cannot be written")

// Options say what demo job to write; the zero value works.
type Options struct {
	Size    int    // triangles of the scan, 20 thousand to 10 million; 0: 300 thousand
	Seed    uint64 // of noise, sampling and pose
	Threads int    // 0: all processors
	Replace bool   // write into a folder that holds other files; those of the same name are replaced
}

// Write makes the job and writes its files into dir, which it makes where
// needed. Every file is written beside its final name; all are renamed at the
// end, so a stop leaves the folder as it was. Errors wrap bodywork.ErrSize,
// ErrNotEmpty, ErrWrite or the context's error.
func Write(ctx context.Context, dir string, o Options, progress mesh.Progress) error {
	if err := free(dir, o.Replace); err != nil {
		return err
	}
	job, err := bodywork.Van(ctx, bodywork.Options{Size: o.Size, Seed: o.Seed, Threads: o.Threads}, progress.Part(0, 0.4))
	if err != nil {
		return err
	}
	stations, err := job.ScanStations(ctx, progress.Part(0.4, 0.5))
	if err != nil {
		return err
	}
	surface, err := job.Surface(ctx, progress.Part(0.5, 0.7))
	if err != nil {
		return err
	}
	_, missing := os.Stat(dir)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("demo: %s: %w: %w", dir, ErrWrite, err)
	}
	if missing != nil {
		defer os.Remove(dir) // runs after discard, and only an empty folder goes
	}
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{ReferenceFile, func(w io.Writer) error { return meshio.WriteSTL(w, job.Reference) }},
		{ScanFile, func(w io.Writer) error { return meshio.WriteSTL(w, job.Scan) }},
		{TruthSurfaceFile, func(w io.Writer) error { return writeSurface(w, job, surface) }},
		{TruthStationsFile, func(w io.Writer) error { return writeStations(w, job, stations) }},
		{TruthFile, func(w io.Writer) error { return writeTruth(w, job) }},
		{InspectionFile, func(w io.Writer) error { return writeInspection(w, job) }},
	}
	var out staged
	defer out.discard()
	for i, f := range files {
		if err := out.write(ctx, dir, f.name, f.write); err != nil {
			return err
		}
		progress.Report(0.7 + 0.3*float64(i+1)/float64(len(files)))
	}
	return out.publish()
}

// free reports whether files may be written into dir.
func free(dir string, replace bool) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("demo: %s: %w: %w", dir, ErrWrite, err)
	case len(entries) > 0 && !replace:
		return fmt.Errorf("demo: %s: %w; name another folder or allow its files to be replaced", dir, ErrNotEmpty)
	}
	return nil
}

// staged are files that wait beside their final names.
type staged []struct{ waiting, final string }

// write writes one file beside its final name.
func (s *staged) write(ctx context.Context, dir, name string, content func(io.Writer) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	final := filepath.Join(dir, name)
	fail := func(err error) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return fmt.Errorf("demo: %s: %w: %w", final, ErrWrite, err)
	}
	f, err := os.CreateTemp(dir, "."+name+".*")
	if err != nil {
		return fail(err)
	}
	*s = append(*s, struct{ waiting, final string }{f.Name(), final})
	w := bufio.NewWriterSize(stopping{ctx, f}, 1<<20)
	err = content(w)
	if err == nil {
		err = w.Flush()
	}
	if err == nil {
		err = f.Chmod(0o644)
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return fail(err)
	}
	return nil
}

// publish gives all files their final names.
func (s *staged) publish() error {
	for len(*s) > 0 {
		f := (*s)[0]
		if err := os.Rename(f.waiting, f.final); err != nil {
			return fmt.Errorf("demo: %s: %w: %w", f.final, ErrWrite, err)
		}
		*s = (*s)[1:]
	}
	return nil
}

// discard removes what still waits.
func (s *staged) discard() {
	for _, f := range *s {
		_ = os.Remove(f.waiting)
	}
}

// stopping is a file that refuses writes once the work was stopped.
type stopping struct {
	ctx context.Context
	w   io.Writer
}

func (s stopping) Write(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.w.Write(p)
}
