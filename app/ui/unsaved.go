package ui

import (
	"path/filepath"
	"time"

	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
)

// lookForUnsaved offers changes back that were not saved when a program ended.
func (w *Window) lookForUnsaved() {
	if w.opt.StateDir == "" {
		return
	}
	w.worker.aside(func() {
		if list := bench.FindUnsaved(w.opt.StateDir); len(list) > 0 {
			w.opt.Post(func() { w.offerUnsaved(list) })
		}
	})
}

// lookBeside offers changes back that lie beside a job that was opened, once.
func (w *Window) lookBeside() {
	job := w.bench.Job()
	if w.opt.StateDir == "" || job == nil || job.Path == "" || w.bench.Dirty() || w.lookedAt[job.Path] {
		return
	}
	path := job.Path
	w.lookedAt[path] = true
	w.worker.aside(func() {
		if u, ok := bench.UnsavedBeside(path, w.opt.StateDir); ok {
			w.opt.Post(func() { w.offerUnsaved([]bench.Unsaved{u}) })
		}
	})
}

// offerUnsaved asks what is to become of unsaved changes, the newest first.
func (w *Window) offerUnsaved(list []bench.Unsaved) {
	u := list[0]
	name := filepath.Base(u.Job)
	if u.Job == "" {
		name = tr("recover.nofile", "a job without a file")
	}
	if u.Title != "" {
		name = u.Title + " (" + name + ")"
	}
	data := map[string]any{"Job": shorten(name, 80), "When": u.When.Format(time.DateTime)}
	said := trf("recover.text", "{{.Job}} has changes that were not saved when the program ended, the last of {{.When}}. Take them back and save them then, or throw them away?", data)
	if u.Since {
		said += " " + tr("recover.since", "The job's file was written again after that: what is taken back may lack what is in it now, and saving asks before it writes over it.")
	}
	var d *dialog.CustomDialog
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	take := newButton(tr("recover.take", "Take them back"), leave(func() {
		w.bench.Recover(u)
	}))
	take.Importance = widget.HighImportance
	d = dialog.NewCustomWithoutButtons(tr("recover.title", "There are unsaved changes"), wrapped(said), w.win)
	pose(d, 560, 210,
		newButton(tr("recover.later", "Later"), leave(func() {})),
		newButton(tr("recover.drop", "Throw away"), leave(func() {
			w.worker.aside(func() { bench.Discard(u) })
			if len(list) > 1 {
				w.offerUnsaved(list[1:])
			}
		})),
		take,
	)
	w.win.Canvas().Focus(take)
	w.trace.put(Trace{Event: "asked", Name: "unsaved", Text: u.File})
}

// sayKept tells once when unsaved changes cannot be kept.
func (w *Window) sayKept() {
	if err := w.bench.Kept(); err != nil {
		w.trace.put(Trace{Event: "error", Text: err.Error()})
		w.tell(tr("recover.cannot.title", "Unsaved changes cannot be kept"),
			trf("recover.cannot", "If the program ends before you save, they are lost: {{.Why}}. Make room on the disk, or save the job.", map[string]any{"Why": sentenceOf(err)}))
	}
}

// saySwapped tells once when a mesh is another file than the one a job was saved with.
func (w *Window) saySwapped() {
	parts, job := w.bench.Outcome().Parts, w.bench.Job()
	if parts == nil || job == nil || w.swappedOf == parts {
		return
	}
	w.swappedOf = parts
	said := ""
	for _, s := range app.Swapped(job, parts) {
		said += asSentence(told(s)) + "\n\n"
	}
	if said != "" {
		w.trace.put(Trace{Event: "swapped", Text: said})
		w.tell(tr("swapped.title", "A mesh is not the one of before"), said+tr("swapped.next", "Saving the job makes it the job's own. To go on with the one of before, put its file back and open the job again."))
	}
}

// tell shows a text until it is closed.
func (w *Window) tell(title, text string) {
	w.showText(title, wrapped(text), 560, 220)
}
