package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
)

// The bench's measures in layout units. At 1280 by 800 the view keeps 772 by about 490.
const (
	railWidth   = 176
	cardWidth   = 332
	stripHeight = 206
	insetWidth  = 300
	insetHeight = 214
)

// fixedWidth gives its one object a width of its own and the height it is given.
type fixedWidth float32

func (f fixedWidth) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(float32(f), objects[0].MinSize().Height)
}
func (f fixedWidth) Layout(objects []fyne.CanvasObject, s fyne.Size) { objects[0].Resize(s) }

// corners lays out what floats over the view: upper left, upper right, lower right.
type corners struct{}

const cornerGap = 10

func (corners) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(0, 0) }
func (corners) Layout(objects []fyne.CanvasObject, s fyne.Size) {
	for i, o := range objects {
		m := o.MinSize()
		o.Resize(m)
		switch i {
		case 0:
			o.Move(fyne.NewPos(cornerGap, cornerGap))
		case 1:
			o.Move(fyne.NewPos(s.Width-m.Width-cornerGap, cornerGap))
		case 2:
			o.Move(fyne.NewPos(s.Width-m.Width-cornerGap, s.Height-m.Height-cornerGap))
		}
	}
}

// columns lays its objects out row by row in a table of n columns, each as wide as its widest.
type columns struct {
	n    int
	gapX float32
	gapY float32
}

func (c columns) measure(objects []fyne.CanvasObject) (widths, heights []float32) {
	widths = make([]float32, c.n)
	heights = make([]float32, (len(objects)+c.n-1)/c.n)
	for i, o := range objects {
		m := o.MinSize()
		widths[i%c.n] = max(widths[i%c.n], m.Width)
		heights[i/c.n] = max(heights[i/c.n], m.Height)
	}
	return widths, heights
}

func (c columns) MinSize(objects []fyne.CanvasObject) fyne.Size {
	widths, heights := c.measure(objects)
	var s fyne.Size
	for i, w := range widths {
		s.Width += w
		if i > 0 {
			s.Width += c.gapX
		}
	}
	for i, h := range heights {
		s.Height += h
		if i > 0 {
			s.Height += c.gapY
		}
	}
	return s
}

func (c columns) Layout(objects []fyne.CanvasObject, _ fyne.Size) {
	widths, heights := c.measure(objects)
	var x, y float32
	for i, o := range objects {
		if i%c.n == 0 {
			x = 0
			if i > 0 {
				y += heights[i/c.n-1] + c.gapY
			}
		}
		o.Move(fyne.NewPos(x, y))
		o.Resize(fyne.NewSize(widths[i%c.n], heights[i/c.n]))
		x += widths[i%c.n] + c.gapX
	}
}

// text is a line of text in a colour of the palette.
func text(s string, size float32, c color.RGBA, bold bool) *canvas.Text {
	t := canvas.NewText(s, c)
	t.TextSize, t.TextStyle.Bold = size, bold
	return t
}

// padded puts room around an object.
func padded(top, bottom, left, right float32, o fyne.CanvasObject) *fyne.Container {
	return container.New(layout.NewCustomPaddedLayout(top, bottom, left, right), o)
}

// filled puts an object on a ground of one colour.
func filled(back *canvas.Rectangle, o fyne.CanvasObject) *fyne.Container {
	return container.NewStack(back, o)
}
