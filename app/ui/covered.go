package ui

import (
	"image"
	"math"
	"slices"

	"fyne.io/fyne/v2"
)

// box is a place over the view, in layout units.
type box struct {
	at   fyne.Position
	size fyne.Size
}

// cover notes what floats over the view, so that no label of the picture lies under it; the picture is drawn again where that
// has changed.
func (w *Window) cover(floating []fyne.CanvasObject) {
	var now []box
	for _, o := range floating {
		if o.Visible() && o.Size().Width > 0 && o.Size().Height > 0 {
			now = append(now, box{o.Position(), o.Size()})
		}
	}
	if before := w.covered.Load(); before != nil && slices.Equal(*before, now) {
		return
	}
	w.covered.Store(&now)
	w.view.draw()
}

// coveredIn returns what is covered of a picture with so many pixels to a layout unit. It is asked by the painter.
func (w *Window) coveredIn(scale float64) (list []image.Rectangle) {
	boxes := w.covered.Load()
	if boxes == nil {
		return nil
	}
	px := func(v float32) int { return int(math.Round(scale * float64(v))) }
	for _, b := range *boxes {
		list = append(list, image.Rect(px(b.at.X), px(b.at.Y), px(b.at.X+b.size.Width), px(b.at.Y+b.size.Height)))
	}
	return list
}
