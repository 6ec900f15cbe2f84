package ui

import (
	"context"
	"fmt"
	"image"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/chart"
	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/deviation/seampath"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// seamDrawing is a new seam being drawn, click by click.
type seamDrawing struct {
	placed *app.Placed
	clicks []seampath.Click
	path   seampath.Path // laid through the first laid clicks
	laid   int
	stop   context.CancelFunc // of the laying under way
	ending bool               // the seam is finished as soon as its path is laid
	missed bool               // the last click met nothing
}

// readyGround is the ground paths are laid on, of the placed scan it was made of.
type readyGround struct {
	of     *app.Placed
	ground *seampath.Ground // nil while it is being made
}

// beginSeam starts, or gives up, drawing a new seam.
func (w *Window) beginSeam() {
	if w.drawing != nil {
		w.endSeam()
		return
	}
	if !w.settle() {
		return
	}
	if w.bench.Job() == nil || w.bench.Outcome().Placed == nil {
		return
	}
	w.drawing = &seamDrawing{placed: w.bench.Outcome().Placed, stop: func() {}}
	w.makeGround()
	w.view.cursor = desktop.CrosshairCursor
	w.bench.Show(bench.Seams)
	w.win.Canvas().Focus(w.view) // which hands on return, backspace and escape
}

func (w *Window) endSeam() {
	w.dropSeam()
	w.bench.Show(bench.Seams)
}

// dropSeam forgets the seam being drawn.
func (w *Window) dropSeam() {
	if w.drawing != nil {
		w.drawing.stop()
	}
	w.drawing = nil
	w.view.cursor = desktop.DefaultCursor
	w.view.rubber(nil)
}

// makeGround indexes the placed scan on a worker, once.
func (w *Window) makeGround() {
	placed := w.drawing.placed
	if w.seamGround.of == placed {
		return
	}
	w.seamGround = readyGround{of: placed}
	w.worker.aside(func() {
		g, err := seampath.New(context.Background(), placed.Mesh, 0, nil)
		w.opt.Post(func() {
			if w.seamGround.of != placed {
				return
			}
			if err != nil {
				w.seamGround = readyGround{}
				w.dropSeam()
				w.failed(fmt.Errorf("no seam can be drawn on this scan: %w", err))
				return
			}
			w.seamGround.ground = g
			w.lay()
		})
	})
}

// seamClick takes a click of the seam being drawn at a pixel of a picture.
func (w *Window) seamClick(p *shade.Picture, x, y float64) {
	d := w.drawing
	pw, ph := p.Size()
	back := p.Camera.Back()
	at, normal, ok := seampath.Skin(p.Camera.Unproject(x, y, 0, pw, ph), back, pictureCast(p))
	if d.missed = !ok; ok {
		c := seampath.Click{At: at, Outward: normal, Slack: clickPixels * p.Camera.MMPerPixel(ph)}
		// The second click of a double one is no further point.
		if n := len(d.clicks); n == 0 || d.clicks[n-1].At.Dist(at) > max(1, c.Slack) {
			d.clicks = append(d.clicks, c)
		}
	}
	w.drawn()
}

// clickPixels is how exactly a click hits.
const clickPixels = 1.5

// pictureCast looks along the line of sight of a picture.
func pictureCast(p *shade.Picture) seampath.Cast {
	pw, ph := p.Size()
	back := p.Camera.Back()
	return func(q geom.Vec) (float64, bool) {
		x, y, _ := p.Camera.Project(q, pw, ph)
		if x < 0 || y < 0 {
			return 0, false
		}
		hit, ok := p.PickHit(int(x), int(y))
		return hit.At.Sub(q).Dot(back), ok
	}
}

// drawn follows a change of the clicks.
func (w *Window) drawn() {
	w.card.refresh()
	w.bar.refresh()
	w.rubberFrom()
	w.view.overlay = w.overlay(w.bench.Shown())
	w.view.draw()
	w.lay()
}

// rubberFrom lets the line to the pointer begin at the last click.
func (w *Window) rubberFrom() {
	if d := w.drawing; d != nil && len(d.clicks) > 0 {
		w.view.rubber(&d.clicks[len(d.clicks)-1].At)
	} else {
		w.view.rubber(nil)
	}
}

// seamBack takes the last click back.
func (w *Window) seamBack() {
	if d := w.drawing; len(d.clicks) > 0 {
		d.clicks = d.clicks[:len(d.clicks)-1]
		d.missed, d.ending = false, false
		w.drawn()
	}
}

// finishSeam makes the drawn seam part of the job, when it has two points, as soon as its path is laid.
func (w *Window) finishSeam() {
	d := w.drawing
	if len(d.clicks) < 2 {
		return
	}
	d.ending = true
	if d.laid == len(d.clicks) {
		w.keepSeam()
		return
	}
	w.card.refresh()
}

// lay lays the path through the clicks on a worker; a newer one overtakes it.
func (w *Window) lay() {
	d, g := w.drawing, w.seamGround.ground
	if d == nil {
		return
	}
	d.stop()
	d.stop = func() {}
	d.laid, d.path = 0, seampath.Path{}
	if g == nil || w.seamGround.of != d.placed || len(d.clicks) < 2 {
		return
	}
	ctx, stop := context.WithCancel(context.Background())
	d.stop = stop
	clicks := append([]seampath.Click{}, d.clicks...)
	w.worker.aside(func() {
		path, err := g.Lay(ctx, clicks)
		w.opt.Post(func() {
			if ctx.Err() != nil || err != nil || w.drawing != d {
				return
			}
			d.path, d.laid = path, len(clicks)
			if d.ending {
				w.keepSeam()
				return
			}
			w.card.refresh()
			w.view.overlay = w.overlay(w.bench.Shown())
			w.view.draw()
		})
	})
}

// pathExact is how exactly a path is kept, mm: under what a station's point may lie beside the gap's middle by far.
const pathExact = 0.1

// keepSeam makes the laid path a seam of the job.
func (w *Window) keepSeam() {
	path := seampath.Rounded(seampath.Simplified(w.drawing.path.Points, pathExact))
	w.endSeam()
	if len(path) < 2 {
		w.failed(fmt.Errorf("the ends of the seam lie on one another: click two different points"))
		return
	}
	name := w.freeName()
	var paths [][]geom.Vec
	var names []string
	for _, s := range w.bench.Job().Seams {
		if len(s.Path) > 1 {
			paths, names = append(paths, s.Path), append(names, s.Name)
		}
	}
	if k := seamfind.Beside(path, paths); k >= 0 {
		defer w.tell(tr("newseam.twice.title", "This seam is measured already"), trf("newseam.twice", "The new seam runs along “{{.Name}}”, which the job has already. Undo takes it back; where both stay, both are measured and judged.", map[string]any{"Name": names[k]}))
	}
	w.bench.Edit(tr("edit.newseam", "new seam"), func(i *inspection.Inspection) {
		i.Seams = append(i.Seams, gapflush.DefaultSeam(name, path))
		i.SeamPictures = append(i.SeamPictures, inspection.DefaultPictures)
		i.SeamLaying = append(i.SeamLaying, inspection.Typed)
	})
	w.bench.SelectSeam(len(w.bench.Job().Seams) - 1)
}

// freeName returns "seam 3" for the first number no seam has.
func (w *Window) freeName() string {
	taken := map[string]bool{}
	for _, s := range w.bench.Job().Seams {
		taken[s.Name] = true
	}
	for n := len(taken) + 1; ; n++ {
		if name := fmt.Sprintf("seam %d", n); !taken[name] {
			return name
		}
	}
}

// drawSeam draws the seam being drawn over a picture.
func (d *seamDrawing) over(img *image.RGBA, pic *shade.Picture, th chart.Theme, scale float64) {
	points := make([]geom.Vec, len(d.clicks))
	for i, c := range d.clicks {
		points[i] = c.At
	}
	path := points
	if d.laid == len(d.clicks) && d.laid > 0 {
		path = d.path.Points
	}
	chart.Drawn(img, pic.Camera, points, path, th, scale)
}

// copied returns what the painter may draw while the drawing goes on.
func (d *seamDrawing) copied() *seamDrawing {
	return &seamDrawing{clicks: append([]seampath.Click{}, d.clicks...), path: d.path, laid: d.laid}
}

// drawingCard says what to do while a seam is drawn.
func (c *card) drawingCard() []fyne.CanvasObject {
	w, d := c.w, c.w.drawing
	n := len(d.clicks)
	how := tr("draw.how", "Click on the gap or beside it. Return or a double click ends the seam, Backspace takes the last click back, Escape stops.")
	objects := []fyne.CanvasObject{}
	switch {
	case d.ending:
		objects = append(objects, c.headline(bench.Working, tr("draw.ending", "The path is laid along the gap …")))
	case n == 0:
		objects = append(objects, c.headline(bench.Working, tr("draw.first", "Click on one end of the gap")))
	case n == 1:
		objects = append(objects, c.headline(bench.Working, tr("draw.second", "Click further along the gap, or on its other end")))
	default:
		objects = append(objects, c.headline(bench.Working, trf("draw.more", "{{.N}} points: click further on, or end the seam", map[string]any{"N": strconv.Itoa(n)})))
	}
	if d.missed {
		objects = append(objects, c.paragraph(tr("draw.missed", "There is nothing of the part where you clicked last: turn or zoom, and click on it.")))
	}
	objects = append(objects, c.paragraph(how))
	switch share := map[string]any{"Share": strconv.Itoa(int(100*d.path.Found + 0.5))}; {
	case n < 2:
		objects = append(objects, c.paragraph(tr("draw.follows", "Between the clicks the path follows the gap by itself, bowed or not. More clicks help where a gap is bridged or another one runs close by.")))
	case d.laid != n:
	case d.path.Found == 0:
		objects = append(objects, c.paragraph(tr("draw.nogap", "No gap was found between the clicks: the path runs straight along the skin.")))
	case d.path.Found < 0.5:
		objects = append(objects, c.paragraph(trf("draw.little", "A gap was found along {{.Share}} % of the path only; the rest runs straight on. Does it lie on the shut line?", share)))
	default:
		objects = append(objects, c.paragraph(trf("draw.found", "A gap was found along {{.Share}} % of the path.", share)))
	}
	finish := newButton(tr("draw.finish", "End the seam"), w.finishSeam)
	finish.Importance = widget.HighImportance
	enable(finish, n >= 2 && !d.ending)
	back := newButton(tr("draw.back", "Take the last click back"), w.seamBack)
	enable(back, n > 0)
	return append(objects, container.NewVBox(finish, back, newButton(tr("draw.stop", "Stop"), w.endSeam)))
}
