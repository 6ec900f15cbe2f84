package ui

import (
	"image"
	"image/color"
	"math"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

var (
	_ fyne.Widget        = (*view)(nil)
	_ fyne.Draggable     = (*view)(nil)
	_ fyne.Scrollable    = (*view)(nil)
	_ fyne.Focusable     = (*view)(nil)
	_ desktop.Mouseable  = (*view)(nil)
	_ desktop.Hoverable  = (*view)(nil)
	_ desktop.Cursorable = (*view)(nil)
)

// view shows the part in three dimensions. Dragging orbits about what lies
// under the pointer; with shift or the middle button it pans; the wheel zooms
// at the pointer; a double click centres; a click picks.
type view struct {
	widget.BaseWidget
	painter *painter
	raster  *canvas.Raster
	label   *hoverLabel
	ring    focusRing
	line    *canvas.Line   // from tied to the pointer, while a seam is drawn
	tied    *geom.Vec      // nil: no line
	pointer *fyne.Position // nil: outside

	models  []*shade.Model
	box     geom.Box
	frame   *upright // that named views are named in; nil: not known
	camera  shade.Camera
	placed  bool           // the camera was set for a box
	name    string         // of the view it was fitted to, "" once it was moved by hand
	first   firstLook      // of what is shown
	room    []margins      // one of which is kept free of the part when a view is fitted
	picture *shade.Picture // last finished
	meter   *meter         // nil: nobody asks
	seen    func(finished) // a picture of a part was handed over; nil: nobody asks
	w, h    int            // device pixels last asked for

	// overlay draws over a picture; still: the view rests, so that it may take its time.
	overlay func(img *image.RGBA, pic *shade.Picture, scale float64, still bool)
	picked  func(p *shade.Picture, x, y float64) // a click at a pixel of the last picture
	doubled func() bool                          // a double click; false: it centres
	words   func(hit shade.Hit) string           // of the label under the pointer; "": none
	typed   func(*fyne.KeyEvent)
	cursor  desktop.Cursor

	// grab takes hold of what is drawn at a position, in device pixels; false: there is nothing, and the part is turned.
	// While it is held, haul is told the pixel of the last picture under the pointer, and drop ends it.
	grab    func(x, y float64) bool
	haul    func(p *shade.Picture, x, y float64)
	drop    func(moved bool)
	hauling bool
	moved   func(shade.Camera) // the camera is another one
	told    shade.Camera       // what moved was told last

	button   desktop.MouseButton
	shift    bool
	pressed  fyne.Position
	dragged  bool
	pivot    geom.Vec
	hasPivot bool
	last     click
	now      func() int64 // ms
}

// click is the last click, to tell a double one.
type click struct {
	at   fyne.Position
	time int64
}

// doubleWithin is the time in ms and slop the distance within which a second click makes a double one.
const (
	doubleWithin = 350
	slop         = 4
)

func newView(k worker, now func() int64) *view {
	v := &view{now: now, label: newHoverLabel(), cursor: desktop.DefaultCursor, name: firstView}
	v.raster = canvas.NewRaster(v.generate)
	v.raster.ScaleMode = canvas.ImageScaleFastest
	v.ring = newFocusRing()
	v.line = canvas.NewLine(color.Transparent)
	v.line.StrokeWidth = 1.5
	v.line.Hide()
	v.painter = newPainter(k, v.take)
	v.ExtendBaseWidget(v)
	return v
}

// generate returns the last finished picture and asks for one of the right size when that differs.
func (v *view) generate(w, h int) image.Image {
	if w != v.w || h != v.h {
		v.w, v.h = w, h
		if v.name != "" {
			v.fit(v.name)
		}
		v.draw()
	}
	if v.picture == nil {
		return ground(currentPalette().view.Background)
	}
	v.meter.painting()
	return v.picture.Image
}

// draw asks for a picture of the present state.
func (v *view) draw() {
	if v.w == 0 || v.h == 0 {
		return
	}
	f := frame{models: v.models, camera: v.camera, theme: currentPalette().view, w: v.w, h: v.h}
	if overlay, scale := v.overlay, v.scale(); overlay != nil {
		w := v.w
		f.overlay = func(img *image.RGBA, pic *shade.Picture, still bool) {
			overlay(img, pic, scale*float64(img.Rect.Dx())/float64(w), still)
		}
	}
	if v.moved != nil && v.camera != v.told {
		v.told = v.camera
		v.moved(v.camera)
	}
	v.painter.ask(f)
	v.stretch()
}

// rubber ties a line to the pointer at a point of the part; nil takes it away.
func (v *view) rubber(from *geom.Vec) {
	v.tied = from
	v.stretch()
}

// stretch draws the line from where it is tied to the pointer.
func (v *view) stretch() {
	if v.tied == nil || v.pointer == nil || v.h == 0 {
		v.line.Hide()
		return
	}
	x, y, _ := v.camera.Project(*v.tied, v.w, v.h)
	s := v.scale()
	v.line.StrokeColor = currentPalette().Accent
	v.line.Position1, v.line.Position2 = fyne.NewPos(float32(x/s), float32(y/s)), *v.pointer
	v.line.Show()
	v.line.Refresh()
}

// take shows a finished picture.
func (v *view) take(p *shade.Picture, f finished) {
	v.meter.handed(f)
	v.picture = p
	// One that is stretched would look jagged otherwise.
	v.raster.ScaleMode = canvas.ImageScaleFastest
	if p.Image.Rect.Dx() != v.w {
		v.raster.ScaleMode = canvas.ImageScaleSmooth
	}
	v.raster.Refresh()
	if v.seen != nil && len(v.models) > 0 {
		v.seen(f)
	}
}

// scale returns device pixels per layout unit.
func (v *view) scale() float64 {
	if width := v.Size().Width; width > 0 && v.w > 0 {
		return float64(v.w) / float64(width)
	}
	return 1
}

// upright is where what is shown belongs: left and front are its left and front there.
type upright struct {
	from geom.Rigid // what is shown, into the frame
	box  geom.Box   // of what is shown, there
}

// showIn is show for what belongs into a frame, nil where that is not known. One and the same frame is looked at from the same side,
// however what is shown lies in its own.
func (v *view) showIn(f *upright, models []*shade.Model, box geom.Box, first firstLook) {
	before := v.frame
	v.frame = f
	switch {
	case before != nil && f != nil && before.from != f.from && v.placed && !box.Empty():
		v.models, v.first, v.box = models, first, box
		v.camera = carried(v.camera, f.from.Inverse().After(before.from))
		if v.name != "" {
			v.fit(v.name)
		}
		v.draw()
	default:
		v.put(models, box, first)
		if before == nil && f != nil && v.name != "" && v.placed {
			v.fit(v.name) // what its name means is known by now
		}
	}
}

// carried returns a camera that is moved with the part.
func carried(c shade.Camera, by geom.Rigid) shade.Camera {
	c.Target, c.Right, c.Up = by.Apply(c.Target), by.ApplyDir(c.Right), by.ApplyDir(c.Up)
	return c
}

// show puts models on the screen; the camera stays unless the box is another
// one, which is shown in the view chosen last, or in its own first view.
func (v *view) show(models []*shade.Model, box geom.Box, first firstLook) {
	v.frame = nil
	v.put(models, box, first)
}

func (v *view) put(models []*shade.Model, box geom.Box, first firstLook) {
	v.models, v.first = models, first
	if !box.Empty() && (!v.placed || box.Center().Dist(v.box.Center()) > 0.25*box.Diagonal() || math.Abs(box.Diagonal()-v.box.Diagonal()) > 0.25*box.Diagonal()) {
		v.box = box
		v.placed = false
		if v.name == "" {
			v.name = firstView
		}
		v.fit(v.name)
	}
	v.draw()
}

// fit turns to a named view with the whole part in the picture.
func (v *view) fit(name string) {
	if v.box.Empty() || v.h == 0 || v.box.Diagonal() == 0 {
		v.name = name // for when there is something to fit
		return
	}
	look := firstLook{name: name}
	if name == firstView {
		look = v.first
	}
	if _, ok := shade.ViewOf(look.name, v.box, 1); !ok && look.camera.Height == 0 {
		return
	}
	v.camera = v.fitted(func(aspect float64) shade.Camera {
		if look.name == "" {
			return look.fit(aspect)
		}
		if f := v.frame; f != nil && f.from != geom.Identity() {
			c, _ := shade.ViewOf(look.name, f.box, aspect)
			return carried(c, f.from.Inverse())
		}
		c, _ := shade.ViewOf(look.name, v.box, aspect)
		return c
	})
	v.placed, v.name = true, name
	v.draw()
}

// margins are what floats over the view, in layout units.
type margins struct{ left, top, right, bottom float64 }

// keepFree sets what a fitted view leaves free, the best of several choices, and
// fits again unless the view was moved by hand.
func (v *view) keepFree(room ...margins) {
	if slices.Equal(room, v.room) {
		return
	}
	v.room = room
	if v.name != "" {
		v.fit(v.name)
	}
}

// fitted returns the camera of fit that shows the part largest beside what floats over the view.
func (v *view) fitted(fit func(aspect float64) shade.Camera) shade.Camera {
	var best shade.Camera
	s := v.scale()
	for _, m := range append(v.room[:len(v.room):len(v.room)], margins{})[:max(1, len(v.room))] {
		aspect := max(1, float64(v.w)-s*(m.left+m.right)) / max(1, float64(v.h)-s*(m.top+m.bottom))
		c := fit(aspect).Inset(v.w, v.h, s*m.left, s*m.top, s*m.right, s*m.bottom)
		if best.Height == 0 || c.Height < best.Height {
			best = c
		}
	}
	return best
}

// fitAll keeps the direction and shows the whole part.
func (v *view) fitAll() {
	if v.placed && v.h > 0 {
		v.camera = v.fitted(func(aspect float64) shade.Camera { return v.camera.Fit(v.box, aspect) })
		v.draw()
	}
}

// same shows what another view shows.
func (v *view) same(c shade.Camera) {
	if v.camera == c {
		return
	}
	v.name, v.camera, v.told = "", c, c
	v.draw()
}

// centreOn brings a point to the middle of the view.
func (v *view) centreOn(p geom.Vec) {
	v.name = ""
	v.camera = v.camera.CenterOn(p)
	v.draw()
}

// near zooms to a neighbourhood of p, height mm high, where the view shows more.
func (v *view) near(p geom.Vec, height float64) {
	v.name = ""
	v.camera = v.camera.CenterOn(p)
	v.camera.Height = min(v.camera.Height, height)
	v.draw()
}

// face turns to look along an outward normal onto p, and zooms to it as near does.
func (v *view) face(p, outward geom.Vec, height float64) {
	if outward != (geom.Vec{}) {
		v.camera = facing(outward, v.camera)
	}
	v.near(p, height)
}

// hitAt returns the surface point under a position and its pixel in the last picture.
func (v *view) hitAt(p fyne.Position) (hit shade.Hit, x, y float64, ok bool) {
	size := v.Size()
	if v.picture == nil || size.Width <= 0 || size.Height <= 0 {
		return hit, 0, 0, false
	}
	w, h := v.picture.Size()
	x = float64(p.X) / float64(size.Width) * float64(w)
	y = float64(p.Y) / float64(size.Height) * float64(h)
	hit, ok = v.picture.PickHit(int(x), int(y))
	return hit, x, y, ok
}

// MouseDown remembers what a drag needs: its event brings neither button nor keys.
func (v *view) MouseDown(e *desktop.MouseEvent) {
	v.button, v.pressed, v.dragged = e.Button, e.Position, false
	v.shift = e.Modifier&fyne.KeyModifierShift != 0
	hit, _, _, ok := v.hitAt(e.Position)
	v.pivot, v.hasPivot = hit.At, ok
	if c := fyne.CurrentApp().Driver().CanvasForObject(v); c != nil {
		c.Focus(v)
	}
	v.label.hide()
	s := v.scale()
	v.hauling = v.grab != nil && e.Button == desktop.MouseButtonPrimary && !v.shift && v.grab(float64(e.Position.X)*s, float64(e.Position.Y)*s)
}

// MouseUp ends a drag, or is a click.
func (v *view) MouseUp(e *desktop.MouseEvent) {
	moved := v.dragged || away(e.Position, v.pressed) > slop
	v.button, v.dragged = 0, false
	v.meter.ended()
	if v.hauling {
		v.hauling = false
		v.drop(moved)
		return
	}
	if moved || e.Button != desktop.MouseButtonPrimary {
		return
	}
	hit, x, y, ok := v.hitAt(e.Position)
	now := v.now()
	if now-v.last.time < doubleWithin && away(e.Position, v.last.at) <= slop {
		v.last = click{}
		if v.doubled != nil && v.doubled() {
			return
		}
		if ok {
			v.centreOn(hit.At)
			return
		}
	}
	v.last = click{e.Position, now}
	if v.picked != nil {
		v.picked(v.picture, x, y)
	}
}

func away(a, b fyne.Position) float32 {
	return max(a.X-b.X, b.X-a.X, a.Y-b.Y, b.Y-a.Y)
}

// Dragged orbits, or pans with shift or the middle button.
func (v *view) Dragged(e *fyne.DragEvent) {
	v.dragged = true
	v.painter.collect()
	if v.hauling {
		if _, x, y, _ := v.hitAt(e.Position); v.picture != nil {
			v.haul(v.picture, x, y)
		}
		return
	}
	v.move(float64(e.Dragged.DX), float64(e.Dragged.DY), v.shift || v.button == desktop.MouseButtonTertiary || v.button == desktop.MouseButtonSecondary)
}

// DragEnd is part of fyne.Draggable; MouseUp ends the drag.
func (v *view) DragEnd() {}

// move orbits or pans by layout units.
func (v *view) move(dx, dy float64, pan bool) {
	v.meter.event()
	v.name = ""
	switch {
	case pan:
		v.camera = v.camera.Pan(dx*v.scale(), dy*v.scale(), v.h)
	case v.hasPivot:
		v.camera = v.camera.OrbitAbout(v.pivot, dx, dy)
	default:
		v.camera = v.camera.OrbitAbout(v.box.Center(), dx, dy)
	}
	v.draw()
}

// wheelStep and wheelMost turn wheel units into zoom: a notch is 10 to 25 units
// by platform, and fast turning multiplies them, so they are cut off.
const (
	wheelStep = 0.006
	wheelMost = 60
)

// Scrolled zooms at the pointer.
func (v *view) Scrolled(e *fyne.ScrollEvent) {
	v.painter.collect()
	v.name = ""
	turn := math.Max(-wheelMost, math.Min(wheelMost, float64(e.Scrolled.DY)))
	v.camera = v.camera.ZoomAt(float64(e.Position.X)*v.scale(), float64(e.Position.Y)*v.scale(), math.Exp(wheelStep*turn), v.w, v.h)
	v.draw()
}

// zoom makes the part larger by factor about the middle.
func (v *view) zoom(factor float64) {
	v.name = ""
	v.camera = v.camera.ZoomAt(float64(v.w)/2, float64(v.h)/2, factor, v.w, v.h)
	v.draw()
}

// MouseIn is part of desktop.Hoverable.
func (v *view) MouseIn(e *desktop.MouseEvent) { v.MouseMoved(e) }

// MouseMoved shows the label; with the secondary button held it pans, as the
// toolkit does not call that a drag.
func (v *view) MouseMoved(e *desktop.MouseEvent) {
	at := e.Position
	v.pointer = &at
	v.stretch()
	if e.Button&desktop.MouseButtonSecondary != 0 && v.button == desktop.MouseButtonSecondary {
		d := e.Position.Subtract(v.pressed)
		v.pressed = e.Position
		v.dragged = true
		v.painter.collect()
		v.move(float64(d.X), float64(d.Y), true)
		return
	}
	if v.words == nil {
		v.label.hide()
		return
	}
	if hit, _, _, ok := v.hitAt(e.Position); ok {
		if text := v.words(hit); text != "" {
			v.label.show(text, e.Position, v.Size())
			return
		}
	}
	v.label.hide()
}

// MouseOut takes the label away.
func (v *view) MouseOut() {
	v.label.hide()
	v.pointer = nil
	v.stretch()
}

// Cursor returns the pointer's shape.
func (v *view) Cursor() desktop.Cursor { return v.cursor }

// FocusGained shows the ring.
func (v *view) FocusGained() { v.ring.show(true) }

// FocusLost takes the ring away.
func (v *view) FocusLost() { v.ring.show(false) }

// TypedRune is part of fyne.Focusable.
func (v *view) TypedRune(r rune) {
	switch r {
	case '+':
		v.zoom(1.25)
	case '-':
		v.zoom(0.8)
	}
}

// TypedKey passes keys on to the window.
func (v *view) TypedKey(e *fyne.KeyEvent) {
	if v.typed != nil {
		v.typed(e)
	}
}

// CreateRenderer is part of fyne.Widget.
func (v *view) CreateRenderer() fyne.WidgetRenderer { return &viewRenderer{v} }

type viewRenderer struct{ v *view }

func (r *viewRenderer) Layout(s fyne.Size) {
	r.v.raster.Resize(s)
	r.v.ring.resize(s)
}
func (r *viewRenderer) MinSize() fyne.Size { return fyne.NewSize(320, 200) }
func (r *viewRenderer) Refresh()           { r.v.draw(); r.v.raster.Refresh() }

// Destroy leaves the painter at work: the toolkit drops the renderer of what was
// hidden for a minute, and makes another when it is shown again.
func (r *viewRenderer) Destroy() {}
func (r *viewRenderer) Objects() []fyne.CanvasObject {
	return append(append([]fyne.CanvasObject{r.v.raster, r.v.line}, r.v.ring.objects()...), r.v.label.objects()...)
}
