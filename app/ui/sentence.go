package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"
)

var (
	_ fyne.Tappable      = (*sentence)(nil)
	_ fyne.Focusable     = (*sentence)(nil)
	_ desktop.Hoverable  = (*sentence)(nil)
	_ desktop.Cursorable = (*sentence)(nil)
)

// sentence is a statement of the card that shows its place when clicked.
type sentence struct {
	widget.BaseWidget
	label            *prose
	back, mark       *canvas.Rectangle
	tapped           func()
	hovered, focused bool
}

func newSentence(s string, tapped func()) *sentence {
	x := &sentence{label: newProse(s, sizeText, false, proseWide-sentenceLeft-sentenceMark), tapped: tapped}
	x.back, x.mark = canvas.NewRectangle(color.Transparent), canvas.NewRectangle(color.Transparent)
	x.back.CornerRadius = 3
	x.ExtendBaseWidget(x)
	return x
}

// Tapped shows the place.
func (x *sentence) Tapped(*fyne.PointEvent) { x.tapped() }

// MouseIn is part of desktop.Hoverable.
func (x *sentence) MouseIn(*desktop.MouseEvent) { x.hovered = true; x.Refresh() }

// MouseMoved is part of desktop.Hoverable.
func (x *sentence) MouseMoved(*desktop.MouseEvent) {}

// MouseOut is part of desktop.Hoverable.
func (x *sentence) MouseOut() { x.hovered = false; x.Refresh() }

// Cursor shows that a click does something.
func (x *sentence) Cursor() desktop.Cursor { return desktop.PointerCursor }

// FocusGained shows the ring.
func (x *sentence) FocusGained() { x.focused = true; x.Refresh() }

// FocusLost takes the ring away.
func (x *sentence) FocusLost() { x.focused = false; x.Refresh() }

// TypedRune is part of fyne.Focusable.
func (x *sentence) TypedRune(rune) {}

// TypedKey shows the place on space or return.
func (x *sentence) TypedKey(e *fyne.KeyEvent) {
	if passKey(x, e) {
		return
	}
	if e.Name == fyne.KeySpace || e.Name == fyne.KeyReturn || e.Name == fyne.KeyEnter {
		x.tapped()
	}
}

func (x *sentence) paint() {
	p := currentPalette()
	x.mark.FillColor = p.Accent
	x.back.FillColor, x.back.StrokeWidth = color.Transparent, 0
	if x.hovered {
		x.back.FillColor = p.hover
	}
	if x.focused {
		x.back.StrokeWidth, x.back.StrokeColor = 2, clear(p.primary, 0x90)
	}
}

// CreateRenderer is part of fyne.Widget.
func (x *sentence) CreateRenderer() fyne.WidgetRenderer {
	x.paint()
	return &sentenceRenderer{x}
}

type sentenceRenderer struct{ x *sentence }

// sentenceMark is the width of the mark before a sentence that shows its place, and sentenceLeft what is free before it.
const sentenceMark, sentenceLeft = 3, 4

func (r *sentenceRenderer) Layout(s fyne.Size) {
	r.x.back.Resize(s)
	r.x.mark.Resize(fyne.NewSize(sentenceMark, s.Height-8))
	r.x.mark.Move(fyne.NewPos(0, 4))
	r.x.label.Move(fyne.NewPos(sentenceMark, 0))
	r.x.label.Resize(fyne.NewSize(s.Width-sentenceMark, s.Height))
}
func (r *sentenceRenderer) MinSize() fyne.Size {
	return r.x.label.MinSize().AddWidthHeight(sentenceMark, 0)
}
func (r *sentenceRenderer) Refresh() {
	r.x.paint()
	for _, o := range r.Objects() {
		o.Refresh()
	}
}
func (r *sentenceRenderer) Destroy() {}
func (r *sentenceRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.x.back, r.x.mark, r.x.label}
}
