package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
)

var (
	_ fyne.Tappable     = (*stageRow)(nil)
	_ fyne.Focusable    = (*stageRow)(nil)
	_ desktop.Hoverable = (*stageRow)(nil)
)

// stageRow is a stage on the left: its lamp, its name and one line of state.
type stageRow struct {
	widget.BaseWidget
	name    string
	line    string
	lamp    bench.Lamp
	chosen  bool
	hovered bool
	focused bool
	tapped  func()

	back, mark *canvas.Rectangle
	icon       *canvas.Image
	title, say *canvas.Text
}

func newStageRow(name string, tapped func()) *stageRow {
	r := &stageRow{name: name, tapped: tapped}
	r.back, r.mark = canvas.NewRectangle(color.Transparent), canvas.NewRectangle(color.Transparent)
	r.icon = lampImage(bench.NotDone, 20)
	r.title, r.say = canvas.NewText(name, color.Black), canvas.NewText("", color.Black)
	r.title.TextSize, r.say.TextSize = 14, sizeCaption
	r.title.TextStyle.Bold = true
	r.ExtendBaseWidget(r)
	return r
}

// set changes what the row shows.
func (r *stageRow) set(lamp bench.Lamp, line string, chosen bool) {
	if r.lamp == lamp && r.line == line && r.chosen == chosen {
		return
	}
	r.lamp, r.line, r.chosen = lamp, line, chosen
	r.Refresh()
}

func (r *stageRow) paint() {
	p := currentPalette()
	r.back.FillColor = color.Transparent
	r.mark.FillColor = color.Transparent
	switch {
	case r.chosen:
		r.back.FillColor = p.chosen
		r.mark.FillColor = p.primary
	case r.hovered:
		r.back.FillColor = p.hover
	}
	r.back.StrokeWidth = 0
	if r.focused {
		r.back.StrokeWidth, r.back.StrokeColor = 2, clear(p.primary, 0x90)
	}
	if lamp := lampResource(r.lamp, p); lamp.Name() != r.icon.Resource.Name() { // the toolkit reads the drawing anew
		r.icon.Resource = lamp
		r.icon.Refresh()
	}
	r.title.Text, r.title.Color = r.name, p.Ink
	r.say.Text, r.say.Color = r.line, p.Faint
}

// Tapped shows the stage.
func (r *stageRow) Tapped(*fyne.PointEvent) { r.tapped() }

// MouseIn is part of desktop.Hoverable.
func (r *stageRow) MouseIn(*desktop.MouseEvent) { r.hovered = true; r.Refresh() }

// MouseMoved is part of desktop.Hoverable.
func (r *stageRow) MouseMoved(*desktop.MouseEvent) {}

// MouseOut is part of desktop.Hoverable.
func (r *stageRow) MouseOut() { r.hovered = false; r.Refresh() }

// FocusGained shows the ring.
func (r *stageRow) FocusGained() { r.focused = true; r.Refresh() }

// FocusLost takes the ring away.
func (r *stageRow) FocusLost() { r.focused = false; r.Refresh() }

// TypedRune is part of fyne.Focusable.
func (r *stageRow) TypedRune(rune) {}

// TypedKey shows the stage on space or return.
func (r *stageRow) TypedKey(e *fyne.KeyEvent) {
	if passKey(r, e) {
		return
	}
	if e.Name == fyne.KeySpace || e.Name == fyne.KeyReturn || e.Name == fyne.KeyEnter {
		r.tapped()
	}
}

// CreateRenderer is part of fyne.Widget.
func (r *stageRow) CreateRenderer() fyne.WidgetRenderer {
	r.paint()
	return &stageRowRenderer{r}
}

type stageRowRenderer struct{ r *stageRow }

func (x *stageRowRenderer) Layout(s fyne.Size) {
	r := x.r
	r.back.Resize(s)
	r.mark.Resize(fyne.NewSize(4, s.Height))
	r.icon.Resize(fyne.NewSquareSize(20))
	r.icon.Move(fyne.NewPos(14, (s.Height-20)/2))
	text := fyne.NewPos(46, (s.Height-36)/2)
	r.title.Move(text)
	r.title.Resize(fyne.NewSize(s.Width-text.X, 19))
	r.say.Move(text.AddXY(0, 19))
	r.say.Resize(fyne.NewSize(s.Width-text.X, 16))
}
func (x *stageRowRenderer) MinSize() fyne.Size { return fyne.NewSize(railWidth, rowHeight) }
func (x *stageRowRenderer) Refresh() {
	x.r.paint()
	for _, o := range []fyne.CanvasObject{x.r.back, x.r.mark, x.r.title, x.r.say} {
		o.Refresh()
	}
}
func (x *stageRowRenderer) Destroy() {}
func (x *stageRowRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{x.r.back, x.r.mark, x.r.icon, x.r.title, x.r.say}
}
