package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"
)

// A question has the keys to itself: Return stands for its highlighted button, or for its only one, Escape takes it away, and
// nothing reaches the window behind it. What of it has the focus answers first.

// pose shows a question with its buttons.
func pose(d *dialog.CustomDialog, width, height float32, buttons ...*pushButton) {
	row := make([]fyne.CanvasObject, len(buttons))
	for k, b := range buttons {
		row[k] = b
	}
	d.SetButtons(row)
	d.Resize(fyne.NewSize(width, height))
	d.Show()
}

// showText shows something to read until it is closed.
func (w *Window) showText(title string, o fyne.CanvasObject, width, height float32) {
	d := dialog.NewCustomWithoutButtons(title, o, w.win)
	pose(d, width, height, highlighted(newButton(tr("error.close", "Close"), d.Hide)))
}

// highlighted makes a button the one that Return stands for.
func highlighted(b *pushButton) *pushButton {
	b.Importance = widget.HighImportance
	return b
}

// fill shows a question with things to fill in, and returns what answers it as its highlighted button does, and what takes it away.
func (w *Window) fill(title, do, cancel string, items []*widget.FormItem, width, height float32, use func()) (submit, hide func()) {
	d := dialog.NewCustomWithoutButtons(title, widget.NewForm(items...), w.win)
	submit = func() { d.Hide(); use() }
	pose(d, width, height, newButton(cancel, d.Hide), highlighted(newButton(do, submit)))
	return submit, d.Hide
}

// answer gives a key to the question that is open.
func (w *Window) answer(e *fyne.KeyEvent) {
	top := w.win.Canvas().Overlays().Top()
	switch e.Name {
	case fyne.KeyEscape:
		top.Hide()
	case fyne.KeyReturn, fyne.KeyEnter:
		if b := answerOf(buttonsIn(top)); b != nil {
			b.OnTapped()
		}
	}
}

// answerOf returns the button that Return stands for, nil where none is meant more than another.
func answerOf(buttons []*widget.Button) *widget.Button {
	for _, b := range buttons {
		if b.Importance == widget.HighImportance && !b.Disabled() {
			return b
		}
	}
	if len(buttons) == 1 && !buttons[0].Disabled() {
		return buttons[0]
	}
	return nil
}

// buttonsIn returns the buttons of a question, the toolkit's own too.
func buttonsIn(o fyne.CanvasObject) (list []*widget.Button) {
	if o == nil || !o.Visible() {
		return nil
	}
	switch x := o.(type) {
	case *pushButton:
		return []*widget.Button{&x.Button}
	case *widget.Button:
		return []*widget.Button{x}
	case *widget.PopUp:
		return buttonsIn(x.Content)
	case *container.Scroll:
		return buttonsIn(x.Content)
	case *fyne.Container:
		for _, c := range x.Objects {
			list = append(list, buttonsIn(c)...)
		}
	}
	return list
}
