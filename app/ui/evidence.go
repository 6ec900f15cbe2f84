package ui

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/storage"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/deviation/evidence"
)

// writeEvidence asks for a folder and writes all results into it.
func (w *Window) writeEvidence() {
	b := w.bench
	if b.Job() == nil || !w.settle() {
		return
	}
	b.Show(bench.Evidence)
	if _, _, running := b.Running(); running {
		w.afterwards = w.writeEvidence // what was typed or changed last is worked in first
		return
	}
	if !b.Complete() {
		w.failed(errors.New("some stages have no result for the job as it is: run them first (Go on), then write the evidence"))
		return
	}
	w.askEvidence(w.evidenceDir())
	w.trace.put(Trace{Event: "asked", Name: "evidence"})
}

// askEvidence asks for the folder to write the evidence into, and offers to save the job first where nobody could check it otherwise.
func (w *Window) askEvidence(dir string) {
	var hide func()
	var more []*widget.FormItem
	if w.unsaved() {
		save := newButton(tr("evidence.save", "Save the job first"), func() { hide(); w.save(w.writeEvidence) })
		more = append(more, &widget.FormItem{Widget: container.NewHBox(save), HintText: tr("evidence.unsaved.short", "The job is not saved: without its inspection file nobody can check the evidence.")})
	}
	hide = w.askPath(tr("evidence.title", "Write evidence"), tr("evidence.folder", "Folder"), tr("evidence.hint", "It is made when it does not exist."), tr("evidence.write", "Write"), dir, inFolder,
		func(dir string) { w.writeTo(dir, false) }, more...)
}

// unsaved reports whether no file holds the job as it is.
func (w *Window) unsaved() bool {
	job := w.bench.Job()
	return job != nil && (job.Path == "" || w.bench.Dirty())
}

// askFolder asks for a folder to write results into.
func (w *Window) askFolder(title, dir string, write func(dir string)) {
	w.askPath(title, tr("evidence.folder", "Folder"), tr("evidence.hint", "It is made when it does not exist."), tr("evidence.write", "Write"), dir, inFolder, write)
}

// askPath asks for a path, with more below it, and returns what takes the question away; within makes one of a folder that was chosen and the last name of what stood there.
func (w *Window) askPath(title, what, hint, do, path string, within func(dir, name string) string, use func(path string), more ...*widget.FormItem) (hide func()) {
	entry := newPathEntry(path)
	browse := newIconButton(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() {
		w.chooseFolder(filepath.Dir(entry.Text), func(dir string) {
			entry.SetText(within(dir, filepath.Base(entry.Text)))
			w.focusOn(entry)
		})
	})
	submit, hide := w.fill(title, do, tr("evidence.cancel", "Cancel"),
		append([]*widget.FormItem{{Text: what, Widget: container.NewBorder(nil, nil, nil, browse, entry), HintText: hint}}, more...), 680, 200,
		func() { use(strings.TrimSpace(entry.Text)) })
	entry.escape = hide
	entry.OnSubmitted = func(string) { submit() }
	w.focusOn(entry)
	entry.CursorColumn = len([]rune(path))
	return hide
}

// inFolder returns where results go when a folder was chosen: into it when it is
// empty, else into one of their own name inside it.
func inFolder(dir, name string) string {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) == 0 {
		return dir
	}
	return filepath.Join(dir, name)
}

// chooseFolder lets the user choose a folder.
func (w *Window) chooseFolder(from string, use func(dir string)) {
	d := dialog.NewFolderOpen(func(dir fyne.ListableURI, err error) {
		switch {
		case err != nil:
			w.failed(err)
		case dir != nil:
			use(dir.Path())
		}
	}, w.win)
	d.SetTitleText(tr("choose.folder", "Choose a folder"))
	if at, err := storage.ListerForURI(storage.NewFileURI(from)); err == nil {
		d.SetLocation(at)
	}
	d.Resize(fyne.NewSize(900, 600))
	d.Show()
}

// openPath opens a file or folder with the program the system has for it.
func (w *Window) openPath(path string) {
	if err := w.openWith(path); err != nil {
		w.failed(fmt.Errorf("%s cannot be opened from here (%w): open it in the file manager", path, err))
	}
}

// systemOpen hands a path to the system's own opener.
func (w *Window) systemOpen(path string) error {
	return w.app.OpenURL(&url.URL{Scheme: "file", Path: filepath.ToSlash(path)})
}

// evidenceDir proposes the folder of before, or one beside the job's file, or beside the scan.
func (w *Window) evidenceDir() string {
	if w.bench.Wrote != "" {
		return w.bench.Wrote
	}
	return w.besides()
}

// besides is the folder for results beside the job's file, or beside the scan.
func (w *Window) besides() string {
	job := w.bench.Job()
	base := job.Path
	if base == "" {
		base = firstFile(job)
	}
	dir := strings.TrimSuffix(base, filepath.Ext(base)) + "-results"
	if abs, err := filepath.Abs(dir); err == nil {
		return abs
	}
	return dir
}

func (w *Window) writeTo(dir string, replace bool) {
	if abs, err := filepath.Abs(dir); err == nil {
		dir = abs // as what goes wrong names it
	}
	w.bench.WriteEvidence(dir, replace, func(dir string, err error) {
		if err == nil {
			w.trace.put(Trace{Event: "written", Text: dir})
			return
		}
		if !replace && w.isOccupied(dir, err) {
			b := w.bench
			holds, names := app.FolderHolds(b.Job(), b.Outcome().Parts, dir)
			w.askReplace(holds, names, dir, func() { w.writeTo(dir, true) }, func() {
				w.askEvidence(dir)
			})
			return
		}
		w.failed(err)
	})
}

// isOccupied reports whether writing failed only because the folder holds other results.
func (w *Window) isOccupied(dir string, err error) bool {
	var refused *evidence.WriteError
	b := w.bench
	return errors.As(err, &refused) &&
		app.CheckFolder(b.Job(), b.Outcome().Parts, dir, app.WriteOptions{}) != nil &&
		app.CheckFolder(b.Job(), b.Outcome().Parts, dir, app.WriteOptions{Replace: true}) == nil
}

// askReplace asks what is to become of what a folder holds that results are to be written into.
func (w *Window) askReplace(holds evidence.Holding, names, dir string, replace, other func()) {
	said, do := tr("replace.other", "This folder holds the results of another job or of other meshes. Replacing them takes them away; files that are not results stay."), tr("replace.do", "Replace")
	own := false
	switch {
	case dir == w.bench.Wrote:
		said, own = tr("replace.own", "This folder holds this job's earlier results."), true
	case holds == evidence.SameResults || holds == evidence.SameScan:
		said, own = tr("replace.scan", "This folder holds earlier results of the same scan."), true
	case holds == evidence.OtherFiles:
		said = trf("replace.files", "This folder holds other files ({{.Names}}). They stay, and the results are written beside them.", map[string]any{"Names": names})
		do = tr("replace.beside", "Write beside them")
	}
	var d *dialog.CustomDialog
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	yes := newButton(do, leave(replace))
	if own {
		yes.Importance = widget.HighImportance
	}
	d = dialog.NewCustomWithoutButtons(tr("evidence.replace", "Replace the results there?"), wrapped(said+"\n\n"+dir), w.win)
	if holds == evidence.OtherFiles {
		d = dialog.NewCustomWithoutButtons(tr("replace.into", "Write into this folder?"), wrapped(said+"\n\n"+dir), w.win)
	}
	pose(d, 560, 210,
		newButton(tr("evidence.cancel", "Cancel"), leave(func() {})),
		newButton(tr("replace.elsewhere", "Other folder"), leave(other)),
		yes,
	)
	if own {
		w.win.Canvas().Focus(yes)
	}
	w.trace.put(Trace{Event: "asked", Name: "replace", Text: dir})
}
