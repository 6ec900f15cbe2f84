package ui

import (
	"image"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"shutline/deviation/chart"
)

var (
	_ fyne.Widget       = (*plot)(nil)
	_ fyne.Draggable    = (*plot)(nil)
	_ fyne.Focusable    = (*plot)(nil)
	_ desktop.Mouseable = (*plot)(nil)
)

// drawing draws a chart of w by h device pixels. It is called on a worker and
// may use only what it was given.
type drawing func(w, h int, th chart.Theme, scale float64) *image.RGBA

// plot shows a chart drawn at device pixels by a worker of its own.
type plot struct {
	widget.BaseWidget
	raster *canvas.Raster
	min    fyne.Size
	worker worker

	draw  drawing // nil: empty
	done  *image.RGBA
	w, h  int
	busy  bool // the worker draws; again: and must once more
	again bool

	pressed func(x, y float64, w, h int, scale float64)     // click or drag, device pixels
	swept   func(from, to float64, w, h int, scale float64) // instead of pressed: dragged over this stretch; a click has none
	from    float64
	typed   func(*fyne.KeyEvent)
	ring    focusRing
}

func newPlot(k worker, min fyne.Size) *plot {
	p := &plot{worker: k, min: min, ring: newFocusRing()}
	p.raster = canvas.NewRaster(p.generate)
	p.raster.ScaleMode = canvas.ImageScaleFastest
	p.ExtendBaseWidget(p)
	return p
}

// set replaces the drawing; nil empties the plot.
func (p *plot) set(d drawing) {
	p.draw = d
	p.ask()
}

func (p *plot) generate(w, h int) image.Image {
	if w != p.w || h != p.h {
		p.w, p.h = w, h
		p.ask()
	}
	if p.done == nil || p.draw == nil {
		return ground(currentPalette().Paper)
	}
	return p.done
}

// ask starts the worker, or lets it draw once more when it is at it.
func (p *plot) ask() {
	if p.draw == nil {
		p.done = nil
		p.raster.Refresh()
		return
	}
	if p.busy {
		p.again = true
		return
	}
	if p.w == 0 || p.h == 0 {
		return
	}
	p.busy = true
	draw, w, h, th, scale := p.draw, p.w, p.h, currentPalette().Theme, p.scale()
	p.worker.aside(func() {
		var img *image.RGBA
		// Also after a panic, so that the plot is drawn again when something changes.
		defer p.worker.post(func() {
			p.busy = false
			p.done = img
			p.raster.Refresh()
			if p.again {
				p.again = false
				p.ask()
			}
		})
		img = draw(w, h, th, scale)
	})
}

func (p *plot) scale() float64 {
	if width := p.Size().Width; width > 0 && p.w > 0 {
		return float64(p.w) / float64(width)
	}
	return 1
}

func (p *plot) press(at fyne.Position) {
	s := p.scale()
	if p.swept != nil {
		p.swept(p.from, float64(at.X)*s, p.w, p.h, s)
		return
	}
	if p.pressed != nil {
		p.pressed(float64(at.X)*s, float64(at.Y)*s, p.w, p.h, s)
	}
}

// MouseDown selects what is under the pointer.
func (p *plot) MouseDown(e *desktop.MouseEvent) {
	if p.pressed == nil && p.swept == nil || e.Button != desktop.MouseButtonPrimary {
		return
	}
	p.from = float64(e.Position.X) * p.scale()
	if c := fyne.CurrentApp().Driver().CanvasForObject(p); c != nil {
		c.Focus(p)
	}
	p.press(e.Position)
}

// MouseUp is part of desktop.Mouseable.
func (p *plot) MouseUp(*desktop.MouseEvent) {}

// Dragged selects what is under the pointer.
func (p *plot) Dragged(e *fyne.DragEvent) { p.press(e.Position) }

// DragEnd is part of fyne.Draggable.
func (p *plot) DragEnd() {}

// FocusGained shows the ring.
func (p *plot) FocusGained() { p.ring.show(true) }

// FocusLost takes the ring away.
func (p *plot) FocusLost() { p.ring.show(false) }

// TypedRune is part of fyne.Focusable.
func (p *plot) TypedRune(rune) {}

// TypedKey passes keys on to the window.
func (p *plot) TypedKey(e *fyne.KeyEvent) {
	if p.typed != nil {
		p.typed(e)
	}
}

// CreateRenderer is part of fyne.Widget.
func (p *plot) CreateRenderer() fyne.WidgetRenderer { return &plotRenderer{p} }

type plotRenderer struct{ p *plot }

func (r *plotRenderer) Layout(s fyne.Size) {
	r.p.raster.Resize(s)
	r.p.ring.resize(s)
}
func (r *plotRenderer) MinSize() fyne.Size { return r.p.min }
func (r *plotRenderer) Refresh()           { r.p.ask(); r.p.raster.Refresh() }
func (r *plotRenderer) Destroy()           {}
func (r *plotRenderer) Objects() []fyne.CanvasObject {
	return append([]fyne.CanvasObject{r.p.raster}, r.p.ring.objects()...)
}
