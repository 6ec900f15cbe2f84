package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

// chooser is a choice among words that opens only where it stands on a canvas. The toolkit forgets after a minute without a
// frame, as while the machine sleeps, on which canvas things are, and its own choice would end the program then.
type chooser struct {
	widget.Select
}

// canvasOf is what the toolkit says of a thing's canvas; tests have it forgotten.
var canvasOf = func(o fyne.CanvasObject) fyne.Canvas { return fyne.CurrentApp().Driver().CanvasForObject(o) }

func newChooser(options []string) *chooser {
	c := &chooser{}
	c.Options = options
	c.ExtendBaseWidget(c)
	return c
}

// shown reports whether the choice can be opened. Where its canvas was forgotten it asks to be drawn, which tells it again.
func (c *chooser) shown() bool {
	if canvasOf(c) != nil {
		return true
	}
	for _, w := range fyne.CurrentApp().Driver().AllWindows() {
		if content := w.Content(); content != nil {
			content.Refresh()
		}
	}
	return false
}

// Tapped opens the choice.
func (c *chooser) Tapped(e *fyne.PointEvent) {
	if c.shown() {
		c.Select.Tapped(e)
		c.begin()
	}
}

// TypedKey opens the choice or goes through it.
func (c *chooser) TypedKey(e *fyne.KeyEvent) {
	if passKey(c, e) {
		return
	}
	if c.shown() {
		c.Select.TypedKey(e)
		c.begin()
	}
}

// begin goes to what is chosen in the list that was opened, so that the arrows go on from there; the toolkit's list begins above its first.
func (c *chooser) begin() {
	on := canvasOf(c)
	if on == nil {
		return
	}
	if list, open := on.Focused().(*widget.PopUpMenu); open {
		for range c.SelectedIndex() + 1 {
			list.ActivateNext()
		}
	}
}
