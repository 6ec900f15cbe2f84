package ui

import (
	"image"
	"math"
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/chart"
	"shutline/deviation/seampath"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// bending is the path of a seam under the user's hands. Some of its points are
// handles: what lies between two follows, so that a laid path keeps its course.
// What is dropped is part of the job at once, each drop a step of undo.
type bending struct {
	seam    int
	path    []geom.Vec // the job's, or while a handle is held as it will be
	held    []geom.Vec // the path when the handle was taken hold of
	handles []int      // points of the path, rising, its ends among them
	chosen  int        // handle, -1: none
}

// mostHandles is how many handles a path gets at first: so many stand apart on a screen.
const mostHandles = 7

// handlesOf chooses the points of a path that show its course best.
func handlesOf(path []geom.Vec) []int {
	for within := pathExact; ; within *= 2 {
		kept := seampath.Simplified(path, within)
		if len(kept) > mostHandles && len(kept) > 2 {
			continue
		}
		var out []int
		at := 0
		for _, p := range kept {
			for path[at] != p {
				at++
			}
			out = append(out, at)
		}
		return out
	}
}

// moveTo takes the held handle to a point. The path between its neighbours
// follows, the more the nearer to it along the path.
func (b *bending) moveTo(p geom.Vec) {
	h := b.handles[b.chosen]
	by := p.Sub(b.held[h])
	copy(b.path, b.held)
	b.path[h] = p
	follow := func(from, to, step int) { // from the neighbour to the handle
		long := 0.0
		for k := from; k != to; k += step {
			long += b.held[k].Dist(b.held[k+step])
		}
		at := 0.0
		for k := from; k != to && long > 0; k += step {
			b.path[k] = b.held[k].AddScaled(at/long, by)
			at += b.held[k].Dist(b.held[k+step])
		}
	}
	if b.chosen > 0 {
		follow(b.handles[b.chosen-1], h, 1)
	}
	if b.chosen < len(b.handles)-1 {
		follow(b.handles[b.chosen+1], h, -1)
	}
}

// bend shows the handles of the marked seam's path, or takes them away.
func (w *Window) bend() {
	if w.bending != nil {
		w.endBend()
		return
	}
	if !w.settle() {
		return
	}
	k, _ := w.bench.Selection()
	if job := w.bench.Job(); job == nil || k >= len(job.Seams) || len(job.Seams[k].Path) < 2 || w.bench.Outcome().Placed == nil {
		return
	}
	w.bending = &bending{seam: k, chosen: -1}
	w.bench.Show(bench.Seams)
	w.lookAtSeam()
	w.win.Canvas().Focus(w.view)
}

func (w *Window) endBend() {
	w.bending = nil
	w.bench.Show(bench.Seams)
}

// followBend takes the job's path over, or ends when its seam is gone.
func (w *Window) followBend() {
	b := w.bending
	if b == nil {
		return
	}
	k, _ := w.bench.Selection()
	job := w.bench.Job()
	if w.bench.Shown() != bench.Seams || job == nil || k != b.seam || k >= len(job.Seams) || len(job.Seams[k].Path) < 2 {
		w.bending = nil
		return
	}
	if path := job.Seams[k].Path; len(path) == len(b.path) {
		b.path = slices.Clone(path)
	} else {
		b.path = slices.Clone(path)
		b.handles, b.chosen = handlesOf(path), -1
	}
}

// over draws the handles.
func (b *bending) over() func(*image.RGBA, *shade.Picture, chart.Theme, float64) {
	path := slices.Clone(b.path)
	marks := make([]chart.Mark, len(b.handles))
	for k, h := range b.handles {
		marks[k] = chart.Mark{At: path[h], Chosen: k == b.chosen}
	}
	return func(img *image.RGBA, pic *shade.Picture, th chart.Theme, scale float64) {
		chart.Drawn(img, pic.Camera, nil, path, th, scale)
		chart.Marks(img, pic, pic.Camera, marks, th, scale)
	}
}

// grabHandle takes hold of the handle at a position, in device pixels.
func (w *Window) grabHandle(x, y float64) bool {
	b := w.bending
	if b == nil {
		return false
	}
	v := w.view
	best, at := pickWithin*v.scale(), -1
	for k, h := range b.handles {
		sx, sy, _ := v.camera.Project(b.path[h], v.w, v.h)
		if d := math.Hypot(sx-x, sy-y); d < best {
			best, at = d, k
		}
	}
	if at < 0 {
		return false
	}
	b.chosen, b.held = at, slices.Clone(b.path)
	w.card.refresh()
	w.redrawBend()
	return true
}

// onSkin returns the point of the outer skins at a pixel of a picture, a gap bridged.
func onSkin(pic *shade.Picture, x, y float64) (geom.Vec, bool) {
	pw, ph := pic.Size()
	at, _, ok := seampath.Skin(pic.Camera.Unproject(x, y, 0, pw, ph), pic.Camera.Back(), pictureCast(pic))
	return at, ok
}

// haulHandle moves the handle that is held.
func (w *Window) haulHandle(pic *shade.Picture, x, y float64) {
	b := w.bending
	if b == nil || b.chosen < 0 || len(b.held) != len(b.path) {
		return
	}
	if at, ok := onSkin(pic, x, y); ok {
		b.moveTo(at)
		w.redrawBend()
	}
}

// dropHandle makes the bent path the seam's.
func (w *Window) dropHandle(moved bool) {
	if w.bending != nil && moved {
		w.keepBend()
	}
}

// keepBend makes the path as it is now the seam's; one that an inspection file would refuse is said and taken back.
func (w *Window) keepBend() {
	b := w.bending
	path, seam := seampath.Rounded(b.path), b.seam
	change := func(i *inspection.Inspection) { i.Seams[seam].Path = path }
	if err := w.checked(change); err != nil {
		w.followBend()
		w.redrawBend()
		w.failed(err)
		return
	}
	w.bench.Edit(tr("edit.path", "path of the seam"), change)
	w.trace.put(Trace{Event: "bent", Seam: seam + 1, Station: len(path)})
}

// bendClick adds a handle where the path is clicked between two.
func (w *Window) bendClick(pic *shade.Picture, x, y float64) {
	b := w.bending
	pw, ph := pic.Size()
	best, at := pickWithin*w.view.scale()*float64(pw)/float64(max(1, w.view.w)), -1
	for k := 1; k < len(b.path); k++ {
		ax, ay, _ := pic.Camera.Project(b.path[k-1], pw, ph)
		bx, by, _ := pic.Camera.Project(b.path[k], pw, ph)
		if d := distanceToLine(x, y, ax, ay, bx, by); d < best {
			best, at = d, k
		}
	}
	if at < 0 {
		return
	}
	if p, ok := onSkin(pic, x, y); ok {
		b.path = slices.Insert(b.path, at, p)
		n := 0
		for k := range b.handles {
			if b.handles[k] < at {
				n = k + 1
			} else {
				b.handles[k]++
			}
		}
		b.handles = slices.Insert(b.handles, n, at)
		b.chosen = n
		w.keepBend()
	}
}

// distanceToLine returns how far a point lies from a stretch of a line.
func distanceToLine(x, y, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = max(0, min(1, ((x-ax)*dx+(y-ay)*dy)/l))
	}
	return math.Hypot(x-ax-t*dx, y-ay-t*dy)
}

// removeHandle takes the chosen handle out: the path then runs straight between
// its neighbours, and begins or ends at the next one where it was the first or last.
func (w *Window) removeHandle() {
	b := w.bending
	if b.chosen < 0 || len(b.handles) < 3 {
		return
	}
	from, to := 0, len(b.path)
	switch b.chosen {
	case 0:
		to = b.handles[1]
	case len(b.handles) - 1:
		from = b.handles[b.chosen-1] + 1
	default:
		from, to = b.handles[b.chosen-1]+1, b.handles[b.chosen+1]
	}
	b.path = slices.Delete(b.path, from, to)
	b.handles = slices.Delete(b.handles, b.chosen, b.chosen+1)
	for k := range b.handles {
		if b.handles[k] >= to {
			b.handles[k] -= to - from
		}
	}
	b.chosen = -1
	w.keepBend()
}

func (w *Window) redrawBend() {
	w.view.overlay = w.overlay(w.bench.Shown())
	w.view.draw()
}

// bendingCard says what to do with the handles.
func (c *card) bendingCard() []fyne.CanvasObject {
	w, b := c.w, c.w.bending
	data := map[string]any{"N": strconv.Itoa(len(b.handles)), "Name": w.bench.Job().Seams[b.seam].Name}
	remove := newButton(tr("bend.remove", "Take the marked handle out"), w.removeHandle)
	enable(remove, b.chosen >= 0 && len(b.handles) > 2)
	done := newButton(tr("bend.done", "Done"), w.endBend)
	done.Importance = widget.HighImportance
	return []fyne.CanvasObject{
		c.headline(bench.Working, trf("bend.head", "The path of {{.Name}} has {{.N}} handles", data)),
		c.paragraph(tr("bend.how", "Drag a handle: it stays on the outer skin, and the path between its neighbours follows. A click on the path adds one. Backspace takes the marked one out: the path then runs straight there. Every change is measured at once and can be undone.")),
		container.NewVBox(done, remove),
	}
}
