package ui

import (
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"
)

// heldDrop is what was dropped while something else was asked.
type heldDrop struct {
	uris []fyne.URI
	hide func() // takes away what is said of it
}

// heldLook is how often it is looked whether the question was answered: the toolkit does not tell when one is taken away.
const heldLook = 150 * time.Millisecond

// hold keeps what was dropped until what is asked is answered, and says so over the question.
func (w *Window) hold(uris []fyne.URI) {
	var names []string
	for _, u := range uris {
		names = append(names, u.Name())
	}
	data := map[string]any{"Names": shorten(strings.Join(names, ", "), 60)}
	d := dialog.NewCustomWithoutButtons(tr("held.title", "A question is open"),
		wrapped(trf("held.text", "{{.Names}} waits: first answer what is asked behind this, then what was dropped is opened.", data)), w.win)
	h := &heldDrop{uris: uris, hide: d.Hide}
	back := newButton(tr("held.back", "Back to the question"), d.Hide)
	back.Importance = widget.HighImportance
	pose(d, 560, 180, newButton(tr("held.drop", "Do not open it"), w.unhold), back)
	w.win.Canvas().Focus(back)
	w.held = h
	w.trace.put(Trace{Event: "asked", Name: "held", Text: data["Names"].(string)})
	w.awaitAnswer(h)
}

// unhold gives up what was held.
func (w *Window) unhold() {
	if h := w.held; h != nil {
		w.held = nil
		h.hide()
	}
}

// awaitAnswer takes up what is held as soon as nothing is asked, or only which mesh is which, which a drop may answer. An error
// that the answer led to is read first.
func (w *Window) awaitAnswer(h *heldDrop) {
	time.AfterFunc(heldLook, func() {
		w.opt.Post(func() {
			switch {
			case w.held != h:
			case w.asking() && !(w.givesWay() && w.pairNow != nil):
				w.awaitAnswer(h)
			default:
				w.held = nil
				w.Dropped(fyne.Position{}, h.uris)
			}
		})
	})
}
