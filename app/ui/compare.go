package ui

import (
	"context"
	"errors"
	"image"
	"path/filepath"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// comparison shows two results of the same part: before and after side by side, or what has changed.
type comparison struct {
	change  *app.Change
	job     *inspection.Inspection // the second, as it was then
	sides   [2]*shade.Model        // before, after, in the colours of their deviations
	between *shade.Model           // in the colours of the difference
	scale   shade.Scale            // of the difference
	apart   bool                   // before and after stand beside one another
	calls   []chart.CallOut
}

// askCompare lets the user choose the other result's inspection file, or gives the comparison up.
func (w *Window) askCompare() {
	if w.compared != nil {
		w.endCompare()
		return
	}
	if !w.settle() {
		return
	}
	if job := w.bench.Job(); job == nil || job.Reference == nil || w.bench.Outcome().Placed == nil {
		return
	}
	dir := ""
	if path := w.bench.Job().Path; path != "" {
		dir, _ = filepath.Abs(filepath.Dir(path))
	}
	w.chooseTitled(tr("choose.compare", "The other result’s inspection file (.toml), not its results"), dir, []string{".toml"}, w.compareWith)
}

// compareWith compares the job with an earlier result of the same part.
func (w *Window) compareWith(path string) {
	job := w.bench.Job()
	w.bench.CompareWith(path, func(c *app.Change, err error) {
		switch {
		case errors.Is(err, context.Canceled):
		case err != nil:
			w.failed(err)
		case w.bench.Job() == job:
			w.makeComparison(c, job)
		}
	})
}

// makeComparison prepares what is drawn, on a worker.
func (w *Window) makeComparison(c *app.Change, job *inspection.Inspection) {
	scale := w.scaleOf()
	w.worker.aside(func() {
		x := &comparison{change: c, job: job}
		s := c.Surface
		x.scale = shade.NewScale(verdict.Tolerance{Lo: -s.Limit, Hi: s.Limit})
		known := make([]bool, len(s.Difference))
		for i := range known {
			known[i] = s.Decision[i] != deviation.NotCompared
		}
		x.between = shade.NewModel(c.Samples.Mesh, c.Samples.Normals)
		x.between.Paint(s.Difference, known, x.scale)
		for side := range x.sides {
			seen := make([]bool, len(s.State[side]))
			for i, st := range s.State[side] {
				seen[i] = st == deviation.Measured
			}
			x.sides[side] = x.between.Moved(c.Samples.Mesh, geom.Identity())
			x.sides[side].Paint(s.Deviation[side], seen, scale)
		}
		for k := range s.Regions.List {
			if r := &s.Regions.List[k]; k < mostCalled {
				x.calls = append(x.calls, chart.CallOut{At: c.Samples.Mesh.Vertices[r.Peak], Label: strconv.Itoa(k + 1), Text: words.Signed(r.Value.V)})
			}
		}
		w.opt.Post(func() {
			if w.bench.Job() != job {
				return
			}
			w.compared = x
			w.trace.put(Trace{Event: "compared", Line: w.words.Change(c).Headline})
			w.bench.Show(bench.Surface)
		})
	})
}

func (w *Window) endCompare() {
	w.dropCompare()
	w.bench.Show(bench.Surface)
}

// dropCompare forgets the comparison.
func (w *Window) dropCompare() {
	if w.compared == nil {
		return
	}
	w.compared = nil
	w.oneView()
	w.strip.values = deviations{}
}

// oneView gives the part's view its whole width back.
func (w *Window) oneView() {
	w.view.placed, w.view.name = false, firstView
	w.otherSide.Hide()
	w.scanTag.Hide()
	w.sides.Refresh()
}

// bothViews sets a second view beside the part's, each under a name.
func (w *Window) bothViews(first, second string) {
	w.scanName.Text, w.otherName.Text = first, second
	w.scanName.Refresh()
	w.otherName.Refresh()
	if !w.otherSide.Visible() {
		w.otherSide.Show()
		w.scanTag.Show()
		w.sides.Refresh()
	}
}

// turnApart shows before and after beside one another, or what has changed.
func (w *Window) turnApart() {
	x := w.compared
	x.apart = !x.apart
	if !x.apart {
		w.oneView()
	} else {
		w.view.placed, w.other.placed = false, false
		w.view.name, w.other.name = firstView, firstView
	}
	w.bar.refresh()
	w.showScene()
}

// showComparison hands its models to the views.
func (w *Window) showComparison() {
	x, s := w.compared, &w.scene
	th := currentPalette().Theme
	room := margins{left: 8, top: 44, right: rulerWidth + 2*cornerGap, bottom: 40}
	over := func(calls []chart.CallOut, ruler bool) func(*image.RGBA, *shade.Picture, float64, bool) {
		return func(img *image.RGBA, pic *shade.Picture, scale float64, still bool) {
			if len(calls) > 0 {
				chart.CallOuts(img, pic, calls, callRoom(img.Rect.Dx(), img.Rect.Dy(), scale, ruler), still, th, scale)
			}
			chart.ScaleBar(img, pic.Camera, th, scale)
		}
	}
	scale := x.scale
	if x.apart {
		scale = w.scaleOf()
		w.bothViews(tr("compare.before", "Before"), tr("compare.after", "After"))
		w.view.keepFree(room)
		w.other.keepFree(room)
		w.view.overlay, w.other.overlay = over(nil, true), over(nil, true)
		w.view.moved, w.other.moved = w.turned(w.other), w.turned(w.view)
		w.view.show([]*shade.Model{x.sides[0]}, s.parts.Box(s.parts.Mirrored), s.first[s.parts.Mirrored])
		w.other.show([]*shade.Model{x.sides[1]}, s.parts.Box(s.parts.Mirrored), s.first[s.parts.Mirrored])
	} else {
		w.view.keepFree(room)
		w.view.overlay = over(x.calls, true)
		w.view.show([]*shade.Model{x.between}, s.parts.Box(s.parts.Mirrored), s.first[s.parts.Mirrored])
	}
	w.ruler.set(func(cw, ch int, th chart.Theme, k float64) *image.RGBA { return chart.Ruler(cw, ch, th, k, scale) })
	w.ruler.Show()
	w.insetB.Hide()
}

// compareCard says what has changed, on the surface and at the seams.
func (c *card) compareCard() []fyne.CanvasObject {
	w, x := c.w, c.w.compared
	said := w.words.For(w.bench.Outcome()).Change(x.change)
	objects := []fyne.CanvasObject{c.headline(bench.Done, said.Headline), c.caption(tr("card.found", "WHAT WAS FOUND"))}
	found := func(of []words.Sentence) {
		for _, s := range of {
			if s.At == nil {
				objects = append(objects, c.paragraph(s.Text))
				continue
			}
			at := *s.At
			objects = append(objects, newSentence(s.Text, func() { w.lookAtSpot(at) }))
		}
	}
	found(said.Found)
	if points := w.words.ChangedPoints(x.change.Points); points.Headline != "" {
		objects = append(objects, c.caption(tr("compare.points", "NAMED POINTS")), c.paragraph(points.Headline+"."))
		found(points.Found)
	}
	if all := w.words.ChangedSeams(x.change.Seams); all.Headline != "" {
		objects = append(objects, c.caption(tr("compare.seams", "ALL SEAMS TOGETHER")), c.paragraph(all.Headline+"."))
		found(all.Found)
	}
	for _, seam := range x.change.Seams {
		part := w.words.ChangedSeam(seam)
		objects = append(objects, c.caption(strings.ToUpper(seam.Name)), c.paragraph(part.Headline+"."))
		for _, s := range part.Found {
			objects = append(objects, c.paragraph(s.Text))
		}
	}
	write := newButton(tr("compare.write", "Write the comparison"), w.writeComparison)
	write.Importance = widget.HighImportance
	return append(objects, container.NewVBox(write, newButton(tr("compare.end", "End the comparison"), w.endCompare)))
}

// comparison draws the distribution of the change.
func (s *strip) comparison() {
	c := s.w.compared.change
	scale := s.w.compared.scale
	var mm, mm2 []float64
	for i, d := range c.Surface.Decision {
		if d != deviation.NotCompared {
			mm, mm2 = append(mm, c.Surface.Difference[i]), append(mm2, c.Samples.Areas[i])
		}
	}
	s.chart.set(func(w, h int, th chart.Theme, k float64) *image.RGBA {
		return chart.Changes(w, h, th, k, mm, mm2, scale.Tolerance, scale)
	})
	s.put(s.chart)
}

// writeComparison asks for a folder and writes the comparison's tables and pictures into it.
func (w *Window) writeComparison() {
	x := w.compared
	dir := strings.TrimSuffix(w.besides(), "-results") + "-change"
	w.askFolder(tr("compare.write", "Write the comparison"), dir, func(dir string) { w.writeChangeTo(x.change, dir, false) })
}

func (w *Window) writeChangeTo(c *app.Change, dir string, replace bool) {
	if abs, err := filepath.Abs(dir); err == nil {
		dir = abs
	}
	w.bench.WriteChange(c, dir, replace, func(err error) {
		switch {
		case err == nil:
			w.trace.put(Trace{Event: "written", Text: dir})
			w.openPath(dir)
		case !replace && app.CheckChangeFolder(c, dir, app.WriteOptions{}) != nil && app.CheckChangeFolder(c, dir, app.WriteOptions{Replace: true}) == nil:
			holds, names := app.ChangeFolderHolds(c, dir)
			w.askReplace(holds, names, dir, func() { w.writeChangeTo(c, dir, true) }, func() {
				w.askFolder(tr("compare.write", "Write the comparison"), dir, func(dir string) { w.writeChangeTo(c, dir, false) })
			})
		default:
			w.failed(err)
		}
	})
}
