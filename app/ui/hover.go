package ui

import (
	"image"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
)

// hoverLabel is the small label beside the pointer.
type hoverLabel struct {
	back *canvas.Rectangle
	text *canvas.Text
}

func newHoverLabel() *hoverLabel {
	l := &hoverLabel{back: canvas.NewRectangle(color.Transparent), text: canvas.NewText("", color.Transparent)}
	l.text.TextSize = sizeText
	l.back.CornerRadius = 3
	l.back.StrokeWidth = 1
	l.hide()
	return l
}

func (l *hoverLabel) objects() []fyne.CanvasObject { return []fyne.CanvasObject{l.back, l.text} }

// show writes text beside at, inside an area of size within.
func (l *hoverLabel) show(text string, at fyne.Position, within fyne.Size) {
	p := currentPalette()
	l.text.Text, l.text.Color = text, p.Ink
	l.back.FillColor, l.back.StrokeColor = clear(p.Panel, 0xee), p.edge
	size := l.text.MinSize()
	box := size.Add(fyne.NewSize(14, 8))
	pos := at.AddXY(16, 14)
	if pos.X+box.Width > within.Width {
		pos.X = at.X - 10 - box.Width
	}
	if pos.Y+box.Height > within.Height {
		pos.Y = at.Y - 10 - box.Height
	}
	l.back.Resize(box)
	l.back.Move(pos)
	l.text.Resize(size)
	l.text.Move(pos.AddXY(7, 4))
	l.back.Show()
	l.text.Show()
	l.back.Refresh()
	l.text.Refresh()
}

func (l *hoverLabel) hide() {
	l.back.Hide()
	l.text.Hide()
}

// ground is a picture of one pixel, for what is not drawn yet.
func ground(c color.RGBA) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 1, 1))
	img.SetRGBA(0, 0, c)
	return img
}
