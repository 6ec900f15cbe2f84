package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

// pushButton is a button that Return presses as well as space, and that hands all other keys to the window. Space presses it
// as a letter: as a key the letter would follow it into the field of a question that the button opens.
type pushButton struct {
	widget.Button
}

func newButton(title string, tapped func()) *pushButton { return newIconButton(title, nil, tapped) }

func newIconButton(title string, icon fyne.Resource, tapped func()) *pushButton {
	b := &pushButton{widget.Button{Text: title, Icon: icon, OnTapped: tapped}}
	b.ExtendBaseWidget(b)
	return b
}

// TypedRune is part of fyne.Focusable.
func (b *pushButton) TypedRune(r rune) {
	if r == ' ' {
		b.Tapped(nil)
	}
}

// TypedKey is part of fyne.Focusable.
func (b *pushButton) TypedKey(e *fyne.KeyEvent) {
	switch e.Name {
	case fyne.KeySpace:
	case fyne.KeyReturn, fyne.KeyEnter:
		b.Tapped(nil)
	default:
		passOn(b, e)
	}
}

// tick is a box to tick that hands keys to the window.
type tick struct {
	widget.Check
}

func newTick(title string, changed func(bool)) *tick {
	t := &tick{widget.Check{Text: title, OnChanged: changed}}
	t.ExtendBaseWidget(t)
	return t
}

// TypedKey is part of fyne.Focusable.
func (t *tick) TypedKey(e *fyne.KeyEvent) { passOn(t, e) }
