package ui

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
)

// lost returns the title of an error and, for a file that is not where it was, what lets the user say where it is.
func (w *Window) lost(err error) (title string, find func()) {
	var load *bench.LoadError
	var gone *app.MissingError
	var file *inspection.OpenError
	where := func(path string) string {
		return trf("lost.title", "Where is {{.Name}}?", map[string]any{"Name": shorten(filepath.Base(path), 40)})
	}
	switch {
	case errors.As(err, &gone) && errors.As(err, &load) && load.Job.Path != "":
		return where(gone.File), func() {
			w.chooseFileIn(nearest(gone.File), meshEndings, func(path string) {
				w.bench.OpenMoved(load.Job, found(load.Job, gone.File, path))
			})
		}
	case errors.As(err, &file) && errors.Is(file.Err, fs.ErrNotExist):
		return where(file.Path), func() { w.chooseFileIn(nearest(file.Path), []string{".toml"}, w.openJob) }
	}
	return tr("error.title", "This did not work"), nil
}

// nearest returns the folder nearest to where a file was that still exists.
func nearest(path string) string {
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		if info, err := os.Stat(dir); err == nil && info.IsDir() || dir == filepath.Dir(dir) {
			return dir
		}
	}
}

// found returns the job with a file where it was found. What else it misses and lies there by its name has moved with it.
func found(job *inspection.Inspection, lost, at string) *inspection.Inspection {
	same := func(a, b string) bool {
		x, errX := filepath.Abs(a)
		y, errY := filepath.Abs(b)
		return errX == nil && errY == nil && x == y
	}
	move := func(file *string) {
		if *file == "" {
			return
		}
		if same(*file, lost) {
			*file = at
			return
		}
		beside := filepath.Join(filepath.Dir(at), filepath.Base(*file))
		if _, err := os.Stat(*file); errors.Is(err, fs.ErrNotExist) {
			if info, err := os.Stat(beside); err == nil && info.Mode().IsRegular() {
				*file = beside
			}
		}
	}
	return bench.Changed(job, func(i *inspection.Inspection) {
		move(&i.Scan.File)
		if i.Reference != nil {
			move(&i.Reference.File)
		}
		for k := range i.Pieces {
			move(&i.Pieces[k].File)
		}
	})
}
