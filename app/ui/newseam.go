package ui

import (
	"fmt"

	"fyne.io/fyne/v2/driver/desktop"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// beginSeam starts, or gives up, drawing a new seam with two clicks.
func (w *Window) beginSeam() {
	if w.drawing != nil {
		w.endSeam()
		return
	}
	if w.bench.Job() == nil || w.bench.Outcome().Placed == nil {
		return
	}
	w.drawing = &seamDrawing{}
	w.view.cursor = desktop.CrosshairCursor
	w.bench.Show(bench.Seams)
}

func (w *Window) endSeam() {
	w.drawing = nil
	w.view.cursor = desktop.DefaultCursor
	w.bench.Show(bench.Seams)
}

// seamPoint takes one end of the new seam; with the second it becomes part of the job.
func (w *Window) seamPoint(at geom.Vec) {
	if !w.drawing.has {
		w.drawing.from, w.drawing.has = at, true
		w.card.refresh()
		return
	}
	path := w.layPath(w.drawing.from, at)
	w.endSeam()
	if len(path) < 2 {
		w.failed(fmt.Errorf("the two ends of the seam lie on one another: click two different points"))
		return
	}
	name := w.freeName()
	w.bench.Edit(tr("edit.newseam", "new seam"), func(i *inspection.Inspection) {
		i.Seams = append(i.Seams, gapflush.DefaultSeam(name, path))
		i.SeamPictures = append(i.SeamPictures, "worst")
	})
	w.bench.SelectSeam(len(w.bench.Job().Seams) - 1)
	w.card.renew()
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

// Laying a path: pathStep is the distance of its points, dense against the 20 mm
// over which a station's directions are averaged; skinBeside is how far beside the
// line the skin is looked for, beyond a common gap's half width (5 mm) and its hems.
const (
	pathStep   = 10.0
	skinBeside = 9.0
)

// layPath lays a straight path along the skin between two points: seen along the
// present view, each point lies midway between the skin on its two sides, so that
// the path bridges the gap it runs along instead of falling into it.
func (w *Window) layPath(from, to geom.Vec) []geom.Vec {
	p := w.view.picture
	along := to.Sub(from)
	length := along.Norm()
	if p == nil || length < 1e-3 {
		return nil
	}
	back := p.Camera.Back()
	side := back.Cross(along).Unit()
	n := max(1, int(length/pathStep+0.5))
	path := make([]geom.Vec, 0, n+1)
	for i := range n + 1 {
		at := from.Lerp(to, float64(i)/float64(n))
		height, count := 0.0, 0
		for _, s := range []float64{-skinBeside, skinBeside} {
			if h, ok := heightAt(p, at.AddScaled(s, side)); ok {
				height += h
				count++
			}
		}
		if count == 2 {
			at = at.AddScaled(height/2-at.Dot(back), back)
		}
		path = append(path, at)
	}
	return path
}

// heightAt returns how far toward the viewer the surface lies that covers q in the picture.
func heightAt(p *shade.Picture, q geom.Vec) (height float64, ok bool) {
	pw, ph := p.Size()
	x, y, _ := p.Camera.Project(q, pw, ph)
	hit, ok := p.PickHit(int(x), int(y))
	return hit.At.Dot(p.Camera.Back()), ok
}

// lookAtSeam shows the marked seam as a whole.
func (w *Window) lookAtSeam() {
	seam, _ := w.bench.Selection()
	if job := w.bench.Job(); seam < len(job.Seams) {
		box := geom.BoxOf(job.Seams[seam].Path)
		w.view.near(box.Center(), max(lookHeight, 1.3*box.Diagonal()))
	}
}
