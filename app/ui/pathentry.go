package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

// pathEntry is the entry of a question; Escape, which the toolkit's entry would swallow, ends the question.
type pathEntry struct {
	widget.Entry
	escape func()
	keep   bool // its cursor stays where it was while it gets the focus
}

func newPathEntry(text string) *pathEntry {
	e := &pathEntry{escape: func() {}}
	e.ExtendBaseWidget(e)
	e.SetText(text)
	return e
}

// FocusGained selects a text that was reached by Tab, so that what is typed takes its place; a click puts the cursor where it was made.
func (e *pathEntry) FocusGained() {
	e.Entry.FocusGained()
	if !e.keep {
		e.TypedShortcut(&fyne.ShortcutSelectAll{})
	}
}

// focusOn gives the focus to an entry and leaves its text as it is, to go on with.
func (w *Window) focusOn(e *pathEntry) {
	e.keep = true
	defer func() { e.keep = false }()
	w.win.Canvas().Focus(e)
}

// TypedKey is part of fyne.Focusable.
func (e *pathEntry) TypedKey(k *fyne.KeyEvent) {
	if k.Name == fyne.KeyEscape {
		e.escape()
		return
	}
	e.Entry.TypedKey(k)
}

// TappedSecondary is part of fyne.SecondaryTappable. The toolkit's entry asks for the canvas of one that was not painted yet, and has none.
func (e *pathEntry) TappedSecondary(at *fyne.PointEvent) {
	if fyne.CurrentApp().Driver().CanvasForObject(e) != nil {
		e.Entry.TappedSecondary(at)
	}
}
