package ui

import (
	"fyne.io/fyne/v2"

	"shutline/app/bench"
)

// Text that was typed into a setting is the job's before anything else is done with the job: a button of the toolkit leaves
// the focus where it was, so that nobody would take the text over.

// settle takes over what was typed into the settings. A text that is refused stays in its field, which is shown with the
// reason and has the focus; settle then reports false, and what was asked for must not be done.
func (w *Window) settle() bool {
	for {
		f := w.card.settings.typed()
		if f == nil {
			return true
		}
		f.hand()
		if f.pending() {
			w.showField(f)
			return false
		}
	}
}

// typed returns a field whose text was not taken over yet, nil for none.
func (s *settings) typed() *field {
	if s == nil {
		return nil
	}
	for _, f := range s.fields {
		if f.pending() {
			return f
		}
	}
	return nil
}

// showField brings a field of the settings to where it is seen and the user can go on typing.
func (w *Window) showField(f *field) {
	if w.card.fold != nil {
		w.card.fold.Open(0)
	}
	w.win.Canvas().Focus(f)
	f.reveal()
}

// dirty reports whether something would be lost without saving, be it typed a moment ago.
func (w *Window) dirty() bool { return w.bench.Dirty() || w.card.settings.typed() != nil }

// asking reports whether a question or a list is open over the window.
func (w *Window) asking() bool { return w.win.Canvas().Overlays().Top() != nil }

// looks is a command that changes nothing; like all of them it is not for the window behind a question.
func (w *Window) looks(do func()) func() {
	return func() {
		if !w.asking() {
			do()
		}
	}
}

// acts is a command that stands on the job as it is; what was typed is taken over before.
func (w *Window) acts(do func()) func() {
	return w.looks(func() {
		if w.settle() {
			do()
		}
	})
}

// show brings a stage to the front.
func (w *Window) show(s bench.Stage) {
	if w.bench.Job() != nil && w.settle() {
		w.bench.Show(s)
	}
}

// mark marks a station of a seam.
func (w *Window) mark(seam, station int) {
	if w.settle() {
		w.bench.Select(seam, station)
	}
}

// undo takes the last change of the job back; a typed text that cannot be taken over is the last change.
func (w *Window) undo() {
	w.turn(w.bench.Undo, func(name string) string {
		return trf("undone", "Undone: {{.Name}}", map[string]any{"Name": name})
	})
}

// redo makes the change that was taken back last again.
func (w *Window) redo() {
	w.turn(w.bench.Redo, func(name string) string {
		return trf("redone", "Done again: {{.Name}}", map[string]any{"Name": name})
	})
}

func (w *Window) turn(back func() bench.Turn, said func(name string) string) {
	if !w.settle() {
		for f := w.card.settings.typed(); f != nil; f = w.card.settings.typed() {
			f.restore()
		}
		return
	}
	t := back()
	if t.Name == "" {
		return
	}
	if t.Stage != w.bench.Shown() && !w.busyHands() {
		w.bench.Show(t.Stage)
	}
	if seam, _ := w.bench.Selection(); t.Seam >= 0 && t.Seam != seam {
		w.bench.SelectSeam(t.Seam)
	}
	w.history = said(t.Name)
	w.header.refresh()
	w.trace.put(Trace{Event: "turned", Text: w.history})
}

// typist is an entry that knows its own history of typing.
type typist interface {
	fyne.Focusable
	Undo()
	Redo()
}

// undoKey is what the key for undo does: while something is being typed, it takes the typing back.
func (w *Window) undoKey() { w.turnKey(typist.Undo, w.undo) }

// redoKey is what the key for redo does.
func (w *Window) redoKey() { w.turnKey(typist.Redo, w.redo) }

func (w *Window) turnKey(typing func(typist), job func()) {
	e, isEntry := w.win.Canvas().Focused().(typist)
	f, isSetting := e.(*field)
	switch {
	case isSetting && !f.gone:
		// The entry forgets its typing when the text is taken over; from then on the job's history is meant.
		before := f.Text
		if typing(f); f.Text == before && !w.asking() {
			job()
		}
	case isEntry && !isSetting:
		typing(e)
	case !w.asking():
		job()
	}
}

// goOn does what has waited for the work to end.
func (w *Window) goOn() {
	if _, _, running := w.bench.Running(); running || w.afterwards == nil {
		return
	}
	then := w.afterwards
	w.afterwards = nil
	if w.bench.Complete() && w.bench.Shown() == bench.Evidence && !w.asking() {
		then()
	}
}
