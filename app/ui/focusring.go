package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
)

// focusRing is drawn just within what has the focus, as four thin rectangles: of one with a
// border the toolkit's painter works through every pixel, also of those that nothing is drawn on, with every frame.
type focusRing [4]*canvas.Rectangle

// ringWidth is in layout units.
const ringWidth = 2

func newFocusRing() (r focusRing) {
	for i := range r {
		r[i] = canvas.NewRectangle(color.Transparent)
	}
	return r
}

// show draws the ring or takes it away.
func (r focusRing) show(on bool) {
	for _, side := range r {
		side.FillColor = color.Transparent
		if on {
			side.FillColor = clear(currentPalette().primary, 0x90)
		}
		side.Refresh()
	}
}

// resize lays the ring within s. No two sides lie over one another, which would show.
func (r focusRing) resize(s fyne.Size) {
	tall := max(0, s.Height-2*ringWidth)
	for i, at := range [4]struct{ x, y, w, h float32 }{
		{0, 0, s.Width, ringWidth}, {0, s.Height - ringWidth, s.Width, ringWidth},
		{0, ringWidth, ringWidth, tall}, {s.Width - ringWidth, ringWidth, ringWidth, tall},
	} {
		r[i].Move(fyne.NewPos(at.x, at.y))
		r[i].Resize(fyne.NewSize(at.w, at.h))
	}
}

func (r focusRing) objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r[0], r[1], r[2], r[3]}
}
