package ui

import (
	"image/color"
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"
)

var (
	_ fyne.Tappable      = (*door)(nil)
	_ fyne.Focusable     = (*door)(nil)
	_ desktop.Hoverable  = (*door)(nil)
	_ desktop.Cursorable = (*door)(nil)
)

// door is a large button with a line of explanation, for the first start.
type door struct {
	widget.BaseWidget
	title, say       *canvas.Text
	back             *canvas.Rectangle
	glyph            *canvas.Image
	drawing          string
	tapped           func()
	hovered, focused bool
}

func newDoor(title, say, drawing string, tapped func()) *door {
	d := &door{title: canvas.NewText(title, color.Black), say: canvas.NewText(say, color.Black), back: canvas.NewRectangle(color.Transparent), drawing: drawing, tapped: tapped}
	d.title.TextSize, d.title.TextStyle.Bold = 16, true
	d.say.TextSize = sizeText
	d.back.CornerRadius = 6
	d.glyph = canvas.NewImageFromResource(nil)
	d.glyph.FillMode = canvas.ImageFillContain
	d.ExtendBaseWidget(d)
	return d
}

func (d *door) paint() {
	p := currentPalette()
	d.title.Color, d.say.Color = p.Ink, p.Faint
	d.back.FillColor, d.back.StrokeColor, d.back.StrokeWidth = p.Paper, p.edge, 1
	if d.hovered {
		d.back.StrokeColor = p.primary
	}
	if d.focused {
		d.back.StrokeColor, d.back.StrokeWidth = p.primary, 2
	}
	d.glyph.Resource = glyph(d.drawing, p)
}

// Tapped opens the door.
func (d *door) Tapped(*fyne.PointEvent) { d.tapped() }

// MouseIn is part of desktop.Hoverable.
func (d *door) MouseIn(*desktop.MouseEvent) { d.hovered = true; d.Refresh() }

// MouseMoved is part of desktop.Hoverable.
func (d *door) MouseMoved(*desktop.MouseEvent) {}

// MouseOut is part of desktop.Hoverable.
func (d *door) MouseOut() { d.hovered = false; d.Refresh() }

// Cursor shows that a click does something.
func (d *door) Cursor() desktop.Cursor { return desktop.PointerCursor }

// FocusGained shows the ring.
func (d *door) FocusGained() { d.focused = true; d.Refresh() }

// FocusLost takes the ring away.
func (d *door) FocusLost() { d.focused = false; d.Refresh() }

// TypedRune opens the door on space, which as a key would be followed by the letter into the field of the question.
func (d *door) TypedRune(r rune) {
	if r == ' ' {
		d.tapped()
	}
}

// TypedKey opens the door on return.
func (d *door) TypedKey(e *fyne.KeyEvent) {
	if passKey(d, e) {
		return
	}
	if e.Name == fyne.KeyReturn || e.Name == fyne.KeyEnter {
		d.tapped()
	}
}

// CreateRenderer is part of fyne.Widget.
func (d *door) CreateRenderer() fyne.WidgetRenderer {
	d.paint()
	return &doorRenderer{d}
}

type doorRenderer struct{ d *door }

func (r *doorRenderer) Layout(s fyne.Size) {
	r.d.back.Resize(s)
	r.d.glyph.Move(fyne.NewPos(20, (s.Height-44)/2))
	r.d.glyph.Resize(fyne.NewSquareSize(44))
	r.d.title.Move(fyne.NewPos(84, s.Height/2-22))
	r.d.say.Move(fyne.NewPos(84, s.Height/2+3))
}

// MinSize is the same for all doors, or as much more as a line needs, in whatever language.
func (r *doorRenderer) MinSize() fyne.Size {
	const left, right = 84, 20
	return fyne.NewSize(max(560, left+right+max(r.d.say.MinSize().Width, r.d.title.MinSize().Width)), 88)
}
func (r *doorRenderer) Refresh() {
	r.d.paint()
	for _, o := range r.Objects() {
		o.Refresh()
	}
}
func (r *doorRenderer) Destroy() {}
func (r *doorRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.d.back, r.d.glyph, r.d.title, r.d.say}
}

// newDoors is what the bench shows while nothing is on it.
func (w *Window) newDoors() fyne.CanvasObject {
	p := currentPalette()
	title := text(tr("doors.title", "What is on the bench today?"), 24, p.Ink, true)
	hint := text(tr("doors.hint", "Files can also be dropped on this window, or named when the program is started."), sizeText, p.Faint, false)
	w.paints = append(w.paints, func() {
		p := currentPalette()
		title.Color, hint.Color = p.Ink, p.Faint
		title.Refresh()
		hint.Refresh()
	})
	list := container.New(layout.NewCustomPaddedVBoxLayout(12), title, layout.NewSpacer(),
		newDoor(tr("doors.pair", "Open scan and reference"), tr("doors.pair.say", "Two meshes (STL, PLY, OBJ or GLB): the scanned panel and what it should be."), "pair", w.askPair),
		newDoor(tr("doors.job", "Open a saved job"), tr("doors.job.say", "An inspection file (.toml) with its meshes, tolerances and seams."), "job", w.askJob))
	if w.opt.Demo != nil {
		list.Add(newDoor(tr("doors.demo", "Try the demo job"), tr("doors.demo.say", "The left side of a parcel van with a replacement wing that does not quite fit."), "demo", w.openDemo))
	}
	recent := container.NewVBox()
	for i, path := range w.recent() {
		if i == 4 {
			break
		}
		b := newButton(shorten(filepath.Base(path)+"  –  "+filepath.Dir(path), 76), func() { w.openJob(path) })
		b.Importance, b.Alignment = widget.LowImportance, widget.ButtonAlignLeading
		recent.Add(b)
	}
	if len(recent.Objects) > 0 {
		list.Add(text(tr("doors.recent", "RECENT JOBS"), sizeCaption, p.Faint, true))
		list.Add(recent)
	}
	list.Add(hint)
	busy := newWorkBox(w.bench.Stop)
	w.busyDoors = busy
	list.Add(busy.content)
	return container.NewCenter(list)
}
