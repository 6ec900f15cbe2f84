package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

// trimmed lets its one object be as wide as there is room, and shows nothing of it beyond that.
type trimmed struct {
	widget.BaseWidget
	of fyne.CanvasObject
}

// trimmedLeast is how narrow it may become.
const trimmedLeast = 60

func newTrimmed(of fyne.CanvasObject) *trimmed {
	t := &trimmed{of: of}
	t.ExtendBaseWidget(t)
	return t
}

// CreateRenderer is part of fyne.Widget.
func (t *trimmed) CreateRenderer() fyne.WidgetRenderer { return trimmedRenderer{t} }

type trimmedRenderer struct{ t *trimmed }

func (r trimmedRenderer) MinSize() fyne.Size {
	return fyne.NewSize(trimmedLeast, r.t.of.MinSize().Height)
}
func (r trimmedRenderer) Layout(s fyne.Size)           { r.t.of.Resize(s) }
func (r trimmedRenderer) Objects() []fyne.CanvasObject { return []fyne.CanvasObject{r.t.of} }
func (r trimmedRenderer) Refresh()                     { r.t.of.Refresh() }
func (r trimmedRenderer) Destroy()                     {}

// IsClip tells the toolkit's painter that nothing is drawn beyond the widget.
func (r trimmedRenderer) IsClip() {}
