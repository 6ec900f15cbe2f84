package ui

import (
	"image/color"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
)

// The bench's measures in layout units. At 1280 by 800 the view keeps 740 by about 510.
const (
	railWidth   = 176
	rowHeight   = 46 // six of them and the work under way leave room on a screen of 720
	cardWidth   = 364
	cardLeft    = 14 // free beside what the card says
	cardRight   = 12
	stripLeast  = 164 // as high as the list of the six motions
	stripHeight = 206
	stripShare  = 0.235
	pairsWidth  = 370
	insetWidth  = 300
	insetHeight = 214
)

// fixedWidth gives its one object a width of its own and the height it is given.
type fixedWidth float32

func (f fixedWidth) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(float32(f), objects[0].MinSize().Height)
}
func (f fixedWidth) Layout(objects []fyne.CanvasObject, s fyne.Size) { objects[0].Resize(s) }

// overStrip lays out the bench over the strip, which gives way on a low screen so that the card keeps room for its sentences.
type overStrip struct{}

// stripTall returns the strip's height in a bench of a height.
func stripTall(bench float32) float32 {
	return float32(math.Floor(float64(min(stripHeight, max(stripLeast, stripShare*bench)))))
}

func (overStrip) MinSize(o []fyne.CanvasObject) fyne.Size {
	upper, strip := o[0].MinSize(), o[1].MinSize()
	return fyne.NewSize(max(upper.Width, strip.Width), upper.Height+strip.Height)
}

func (overStrip) Layout(o []fyne.CanvasObject, s fyne.Size) {
	tall := max(stripTall(s.Height), o[1].MinSize().Height)
	o[0].Resize(fyne.NewSize(s.Width, s.Height-tall))
	o[0].Move(fyne.NewPos(0, 0))
	o[1].Resize(fyne.NewSize(s.Width, tall))
	o[1].Move(fyne.NewPos(0, s.Height-tall))
}

// corners lays out what floats over the view: upper left, upper right, and lower
// right the inset, which gives way where there is little room. laid is told when it is done.
type corners struct {
	buttons *flow
	laid    func([]fyne.CanvasObject)
}

// flow lays its objects out side by side in rows no wider than wide, as many as it takes; 0: one row.
type flow struct{ wide float32 }

func (f *flow) place(o []fyne.CanvasObject, put func(fyne.CanvasObject, fyne.Position, fyne.Size)) (all fyne.Size) {
	const gap = 4
	var x, y, tall float32
	for _, c := range o {
		if !c.Visible() {
			continue
		}
		m := c.MinSize()
		if x > 0 && f.wide > 0 && x+m.Width > f.wide {
			x, y, tall = 0, y+tall+gap, 0
		}
		put(c, fyne.NewPos(x, y), m)
		all = all.Max(fyne.NewSize(x+m.Width, y+m.Height))
		x, tall = x+m.Width+gap, max(tall, m.Height)
	}
	return all
}

func (f *flow) MinSize(o []fyne.CanvasObject) fyne.Size {
	return f.place(o, func(fyne.CanvasObject, fyne.Position, fyne.Size) {})
}

func (f *flow) Layout(o []fyne.CanvasObject, _ fyne.Size) {
	f.place(o, func(c fyne.CanvasObject, at fyne.Position, m fyne.Size) { c.Move(at); c.Resize(m) })
}

// insetShare is what the inset takes of a small view's width and height, as long
// as it can be read at that size.
const (
	insetShare     = 0.5
	insetReadWidth = 236
	insetReadTall  = 166
	rulerReadTall  = 120
)

// insetSize returns the inset's size over a view.
func insetSize(view fyne.Size) fyne.Size {
	give := func(full, read, room float32) float32 {
		return max(0, min(full, max(read, insetShare*room), room-2*cornerGap))
	}
	return fyne.NewSize(give(insetWidth, insetReadWidth, view.Width), give(insetHeight, insetReadTall, view.Height))
}

// rulerSize returns the ruler's size over a view, above the inset where that is shown; none where it could not be read.
func rulerSize(view fyne.Size, inset float32) fyne.Size {
	tall := min(rulerHeight, view.Height-inset-3*cornerGap)
	if tall < rulerReadTall {
		return fyne.Size{}
	}
	return fyne.NewSize(rulerWidth, tall)
}

const cornerGap = 10

// narrowView is the width up to which a view has its ruler below, where no button is.
const narrowView = 560

func (corners) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(0, 0) }
func (c corners) Layout(objects []fyne.CanvasObject, s fyne.Size) {
	s = s.Max(fyne.Size{})
	c.buttons.wide = s.Width - 2*cornerGap
	for i, o := range objects {
		m := o.MinSize()
		o.Resize(m)
		switch i {
		case 0:
			o.Move(fyne.NewPos(cornerGap, cornerGap))
		case 1:
			inset := float32(0)
			if len(objects) > 2 && objects[2].Visible() {
				inset = insetSize(s).Height
			}
			m = rulerSize(s, inset)
			top := float32(cornerGap)
			bar := objects[0].MinSize()
			if m.Width > 0 && bar.Width+m.Width+3*cornerGap > s.Width { // below the buttons rather than over them
				top += bar.Height + cornerGap/2
				m = rulerSize(s.SubtractWidthHeight(0, top-cornerGap), inset)
			}
			o.Resize(m)
			o.Move(fyne.NewPos(s.Width-m.Width-cornerGap, top))
			if s.Width < narrowView && inset == 0 { // below the buttons and the view's name
				o.Move(fyne.NewPos(s.Width-m.Width-cornerGap, s.Height-m.Height-cornerGap))
			}
		case 2:
			m = insetSize(s)
			o.Resize(m)
			o.Move(fyne.NewPos(s.Width-m.Width-cornerGap, s.Height-m.Height-cornerGap))
		case 3:
			o.Move(fyne.NewPos((s.Width-m.Width)/2, s.Height-m.Height-cornerGap))
		}
	}
	c.laid(objects)
}

// topRight puts its one object into the upper right corner.
type topRight struct{}

func (topRight) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.Size{} }
func (topRight) Layout(o []fyne.CanvasObject, s fyne.Size) {
	m := o[0].MinSize()
	o[0].Resize(m)
	o[0].Move(fyne.NewPos(s.Width-m.Width-cornerGap, cornerGap))
}

// halves gives two objects half of the width each, or the first all of it where the second is hidden.
type halves struct{}

func (halves) MinSize(o []fyne.CanvasObject) fyne.Size { return o[0].MinSize() }
func (halves) Layout(o []fyne.CanvasObject, s fyne.Size) {
	wide := s.Width
	if o[1].Visible() {
		wide = float32(math.Floor(float64(s.Width) / 2))
	}
	o[0].Resize(fyne.NewSize(wide, s.Height))
	o[0].Move(fyne.NewPos(0, 0))
	o[1].Resize(fyne.NewSize(s.Width-wide, s.Height))
	o[1].Move(fyne.NewPos(wide, 0))
}

// corner puts its one small object into the lower right corner.
type corner struct{}

func (corner) MinSize(o []fyne.CanvasObject) fyne.Size { return fyne.Size{} }
func (corner) Layout(o []fyne.CanvasObject, s fyne.Size) {
	const side = 24
	o[0].Resize(fyne.NewSquareSize(side))
	o[0].Move(fyne.NewPos(s.Width-side-3, s.Height-side-3))
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

// around lays objects round a middle one without room between them; nil leaves a side out.
func around(top, bottom, left, right, middle fyne.CanvasObject) *fyne.Container {
	objects := []fyne.CanvasObject{}
	for _, o := range []fyne.CanvasObject{top, bottom, left, right, middle} {
		if o != nil {
			objects = append(objects, o)
		}
	}
	return container.New(&ring{top, bottom, left, right, middle}, objects...)
}

// ring is the layout of around.
type ring struct{ top, bottom, left, right, middle fyne.CanvasObject }

func minOf(o fyne.CanvasObject) fyne.Size {
	if o == nil || !o.Visible() {
		return fyne.Size{}
	}
	return o.MinSize()
}

func (r *ring) MinSize([]fyne.CanvasObject) fyne.Size {
	t, b, l, e, m := minOf(r.top), minOf(r.bottom), minOf(r.left), minOf(r.right), minOf(r.middle)
	return fyne.NewSize(max(l.Width+m.Width+e.Width, t.Width, b.Width), t.Height+b.Height+max(l.Height, m.Height, e.Height))
}

func (r *ring) Layout(_ []fyne.CanvasObject, s fyne.Size) {
	t, b, l, e := minOf(r.top).Height, minOf(r.bottom).Height, minOf(r.left).Width, minOf(r.right).Width
	place := func(o fyne.CanvasObject, x, y, w, h float32) {
		if o != nil {
			o.Move(fyne.NewPos(x, y))
			o.Resize(fyne.NewSize(max(0, w), max(0, h)))
		}
	}
	place(r.top, 0, 0, s.Width, t)
	place(r.bottom, 0, s.Height-b, s.Width, b)
	place(r.left, 0, t, l, s.Height-t-b)
	place(r.right, s.Width-e, t, e, s.Height-t-b)
	place(r.middle, l, t, s.Width-l-e, s.Height-t-b)
}

// laidOut lays containers out again, the outermost first, and paints. Refresh would also bring everything in them up to
// date, which decodes every icon and measures every text anew.
func laidOut(list ...*fyne.Container) {
	for _, c := range list {
		if c.Layout != nil {
			c.Layout.Layout(c.Objects, c.Size())
		}
	}
	canvas.Refresh(list[0])
}
