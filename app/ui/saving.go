package ui

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
)

// safely asks about unsaved changes before something that would lose them.
func (w *Window) safely(then func()) {
	if w.bench.Job() != nil && !w.settle() {
		return
	}
	if w.bench.Job() == nil || !w.bench.Dirty() {
		then()
		return
	}
	var d *dialog.CustomDialog
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	save := newButton(tr("unsaved.save", "Save"), leave(func() { w.save(then) }))
	save.Importance = widget.HighImportance
	d = dialog.NewCustomWithoutButtons(tr("unsaved.title", "The job has changes that are not saved"), wrapped(tr("unsaved.text", "Save them first, or go on without them?")), w.win)
	pose(d, 460, 180,
		newButton(tr("unsaved.stay", "Stay"), leave(func() {})),
		newButton(tr("unsaved.drop", "Do not save"), leave(then)),
		save,
	)
}

// askClose closes the window, after asking about unsaved changes.
func (w *Window) askClose() {
	w.safely(func() {
		w.bench.Close()
		w.win.Close()
		if w.opt.Closed != nil {
			w.opt.Closed()
		}
	})
}

// save writes the job to its file, or asks for one; then goes on with then, which may be nil.
func (w *Window) save(then func()) {
	if !w.settle() {
		return
	}
	if job := w.bench.Job(); job != nil && job.Path != "" {
		w.saveTo(job.Path, then)
		return
	}
	w.saveAs(then)
}

func (w *Window) saveTo(path string, then func()) { w.saveOver(path, false, then) }

// saveOver writes the job to a file off the drawing thread; over: also to one that somebody else has changed.
func (w *Window) saveOver(path string, over bool, then func()) {
	w.bench.SaveThen(path, over, func(err error) {
		var changed *bench.ChangedError
		switch {
		case errors.As(err, &changed):
			w.askChanged(path, err, then)
		case err != nil:
			w.failed(err)
		default:
			w.trace.put(Trace{Event: "saved", Text: path})
			if then != nil {
				then()
			}
		}
	})
}

// askChanged asks what to do about a file that somebody else has changed: to save over it, or elsewhere.
func (w *Window) askChanged(path string, err error, then func()) {
	var d *dialog.CustomDialog
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	elsewhere := newButton(tr("save.elsewhere", "Save elsewhere …"), leave(func() {
		w.worker.aside(func() {
			free := freeName(path)
			w.opt.Post(func() { w.askSave(free, then) })
		})
	}))
	elsewhere.Importance = widget.HighImportance
	d = dialog.NewCustomWithoutButtons(tr("save.changed", "Save over it?"), wrapped(sentenceOf(err)), w.win)
	pose(d, 560, 200,
		newButton(tr("pair.cancel", "Cancel"), d.Hide),
		newButton(tr("save.overit", "Save over it"), leave(func() { w.saveOver(path, true, then) })),
		elsewhere,
	)
	w.trace.put(Trace{Event: "asked", Name: "changed", Text: path})
}

// freeName returns a name beside a file that no file there has.
func freeName(path string) string {
	ending := filepath.Ext(path)
	for n := 2; ; n++ {
		free := fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ending), n, ending)
		if _, err := os.Lstat(free); err != nil {
			return free
		}
	}
}

// saveAs asks for a file and writes the job to it.
func (w *Window) saveAs(then func()) {
	if w.bench.Job() == nil || !w.settle() {
		return
	}
	w.askSave(w.savePath(), then)
}

// savePath proposes a file for the job: its own, or one called as the scan beside it.
func (w *Window) savePath() string {
	job := w.bench.Job()
	path := job.Path
	if path == "" {
		first := firstFile(job)
		path = strings.TrimSuffix(first, filepath.Ext(first)) + ".toml"
	}
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

// besideOf returns a typed path as it is meant: a name alone lies beside what was proposed, wherever the program was started.
func besideOf(proposed, typed string) string {
	if filepath.IsAbs(typed) {
		return typed
	}
	return filepath.Join(filepath.Dir(proposed), typed)
}

// askSave asks for the file to write the job to.
func (w *Window) askSave(path string, then func()) {
	w.askPath(tr("choose.save", "Save the job as"), tr("save.file", "File"), tr("save.hint", "An inspection file, .toml"), tr("header.save", "Save"), path, joined, func(path string) {
		if path == "" {
			return
		}
		folder := os.IsPathSeparator(path[len(path)-1])
		own := w.savePath()
		typed := besideOf(own, path)
		if path = typed; !isJob(path) {
			path += ".toml"
		}
		if path == own && w.bench.Job().Path != "" {
			w.saveTo(path, then)
			return
		}
		w.worker.aside(func() {
			as, errAs := os.Stat(typed)
			folder = folder || errAs == nil && as.IsDir()
			_, err := os.Stat(path)
			w.opt.Post(func() {
				switch {
				case w.bench.Job() == nil:
				case folder:
					w.failed(errors.New(trf("save.folder", "{{.File}} is a folder. Name a file in it.", map[string]any{"File": typed})))
				case err != nil:
					w.saveTo(path, then)
				default:
					w.askOver(path, then)
				}
			})
		})
	})
}

// askOver asks whether a job may be written over a file that is there.
func (w *Window) askOver(path string, then func()) {
	d := dialog.NewCustomWithoutButtons(tr("save.over", "Replace the file there?"), wrapped(trf("save.over.text", "{{.File}} is there already.", map[string]any{"File": path})), w.win)
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	pose(d, 560, 180,
		newButton(tr("pair.cancel", "Cancel"), d.Hide),
		highlighted(newButton(tr("error.other", "Other file"), leave(func() { w.askSave(path, then) }))),
		newButton(tr("replace.do", "Replace"), leave(func() { w.saveTo(path, then) })))
}

func joined(dir, name string) string { return filepath.Join(dir, name) }
