package ui

import (
	"context"
	"image"
	"maps"
	"math"
	"time"

	"fyne.io/fyne/v2"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/words"
	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/crosscut"
	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// The ruler of colours, in layout units.
const (
	rulerWidth  = 104
	rulerHeight = 230
)

// scene keeps the models of what was drawn last, so that a stage shown again costs nothing.
type scene struct {
	raw, reference, placed *shade.Model
	parts                  *app.Parts
	set                    *app.Placed
	setBox                 geom.Box         // of the placed scan
	painted, tried         *deviation.Field // whose colours the placed scan has, and was to have
	scale                  shade.Scale
	first                  map[*mesh.Mesh]firstLook // of what is shown
	showReference          bool
	coarsened              map[*shade.Model]bool // what stands in for them is made, or being made
	building               bool
	since                  time.Time // when it was made
	again                  bool
	pairsThen              bool // pairs are picked as soon as the reference is there
}

// refreshScene shows what belongs to the stage. Models are made on a worker.
func (w *Window) refreshScene() {
	s, o := &w.scene, w.bench.Outcome()
	if o.Parts == nil {
		return
	}
	w.bar.refresh()
	if s.building {
		s.again = true
		return
	}
	needRaw, needPlaced := s.parts != o.Parts, o.Placed != nil && s.set != o.Placed
	needPaint := needPlaced || s.placed != nil && w.bench.Field() != s.tried
	reference := o.Parts.Mirrored != nil && (needRaw || s.reference == nil) && w.wantsReference()
	if needRaw || needPlaced || needPaint || reference {
		s.building = true
		w.buildScene(*s, o.Parts, o.Placed, w.bench.Field(), w.scaleOf(), reference)
		if needRaw {
			return
		}
	}
	w.showScene()
}

// wantsReference reports whether the reference is to be drawn, or could be made ready for that while nothing else is to do.
func (w *Window) wantsReference() bool {
	_, _, running := w.bench.Running()
	return w.scene.showReference || w.scene.pairsThen || !running
}

// restScene makes what can wait, once no work is under way.
func (w *Window) restScene() {
	s, o := &w.scene, w.bench.Outcome()
	if _, _, running := w.bench.Running(); running || o.Parts == nil || s.building || s.parts != o.Parts {
		return
	}
	if o.Parts.Mirrored != nil && s.reference == nil || s.placed != nil && s.tried != w.bench.Field() {
		w.refreshScene()
		return
	}
	w.coarsen(s.raw, s.placed, s.reference)
}

// scaleOf returns the scale of colours of the job.
func (w *Window) scaleOf() shade.Scale { return shade.NewScale(w.bench.Job().Surface.Tolerance) }

func (w *Window) buildScene(s scene, parts *app.Parts, placed *app.Placed, field *deviation.Field, scale shade.Scale, reference bool) {
	w.worker.aside(func() {
		if s.parts != parts {
			s = scene{parts: parts, raw: shade.NewModel(parts.Scan.Mesh, nil)}
			s.first = map[*mesh.Mesh]firstLook{parts.Scan.Mesh: broadest(parts.Scan.Mesh)}
			if parts.Mirrored != nil {
				s.first[parts.Mirrored] = broadest(parts.Mirrored)
			}
		}
		if reference && s.reference == nil {
			s.reference = shade.NewModel(parts.Mirrored, nil)
		}
		if placed != nil && s.set != placed {
			if parts.Mirrored != nil {
				s.first = maps.Clone(s.first) // the window looks at it meanwhile
				s.first[parts.Scan.Mesh] = uprightBy(s.first[parts.Mirrored], parts.Mirrored.Bounds(), placed.Placement.ReferenceFromScan, parts.Scan.Mesh)
			}
			s.setBox = placed.Mesh.Bounds()
			s.set, s.placed, s.painted, s.tried = placed, s.raw.Moved(placed.Mesh, placed.Placement.ReferenceFromScan), nil, nil
		}
		switch {
		case s.placed == nil || field == s.tried:
		case field == nil || len(field.Deviation) != len(placed.Mesh.Vertices):
			s.placed.Paint(nil, nil, scale)
			s.painted = nil
		default:
			s.placed.Paint(field.Deviation, measuredOf(field), scale)
			s.painted, s.scale = field, scale
		}
		if s.placed != nil {
			s.tried = field
		}
		w.opt.Post(func() {
			show, again, pairs := w.scene.showReference, w.scene.again, w.scene.pairsThen
			w.scene = s
			w.scene.since = time.Now()
			w.scene.showReference, w.scene.building, w.scene.again, w.scene.pairsThen = show, false, false, pairs
			switch {
			case again:
				w.refreshScene()
				return
			case pairs && s.reference != nil:
				w.scene.pairsThen = false
				w.beginPairs()
				return
			}
			w.showScene()
			w.restScene()
		})
	})
}

// coarsen makes what stands in for large models while the view moves, one after another, beside everything else.
func (w *Window) coarsen(models ...*shade.Model) {
	var list []*shade.Model
	for _, m := range models {
		if m == nil || !m.Large() || w.scene.coarsened[m] {
			continue
		}
		if w.scene.coarsened == nil {
			w.scene.coarsened = map[*shade.Model]bool{}
		}
		w.scene.coarsened[m] = true
		list = append(list, m)
	}
	if len(list) == 0 {
		return
	}
	w.worker.aside(func() {
		for _, m := range list {
			// Without it pictures of half the size are drawn.
			_ = m.Coarsen(context.Background(), m.StandInCell(), 0)
		}
		w.opt.Post(func() { w.trace.put(Trace{Event: "coarse"}) })
	})
}

// mostCovered is the share of the view up to which the inset is kept clear of the part.
const mostCovered = 0.35

// showScene hands the stage's models to the view.
func (w *Window) showScene() {
	s := &w.scene
	stage := w.bench.Shown()
	switch {
	case w.pairing != nil:
		w.showPairs()
		return
	case w.compared != nil:
		w.showComparison()
		return
	}
	w.view.overlay = w.overlay(stage)
	var m *shade.Model
	var on *mesh.Mesh // what the view is fitted to
	switch {
	case stage != bench.Parts && s.placed != nil:
		m, on = s.placed, s.set.Mesh
	case s.showReference && s.reference != nil:
		m, on = s.reference, s.parts.Mirrored
	case s.raw != nil:
		m, on = s.raw, s.parts.Scan.Mesh
	default:
		return
	}
	room := margins{left: 8, top: 44, right: 8, bottom: 40}
	if w.colours(stage) {
		room.right = rulerWidth + 2*cornerGap
	}
	if stage == bench.Seams && w.bench.Applies(stage) && !w.insetClosed {
		above, beside := room, room
		view := w.view.Size()
		inset := insetSize(view)
		above.bottom, beside.right = float64(inset.Height)+cornerGap, float64(inset.Width)+cornerGap
		if inset.Width*inset.Height > mostCovered*view.Width*view.Height {
			w.view.keepFree(room) // beside it the part would be too small to see
		} else {
			w.view.keepFree(above, beside)
		}
	} else {
		w.view.keepFree(room)
	}
	if m == s.placed {
		// The scan may hold a floor and stands; the reference is what matters.
		// Without one the scan lies as in its file.
		if on = s.parts.Scan.Mesh; s.parts.Mirrored != nil {
			on = s.parts.Mirrored
		}
	}
	turned := w.view.first != s.first[on] && w.view.name == firstView && w.view.placed
	w.view.showIn(w.uprightOf(m), []*shade.Model{m}, s.parts.Box(on), s.first[on])
	if turned && m == s.raw { // how it stands is known by now, and no hand has turned it
		w.view.fit(firstView)
	}
	w.tellAxes(m)
	if w.colours(stage) && !w.brush.on {
		scale := s.scale
		w.ruler.set(func(cw, ch int, th chart.Theme, k float64) *image.RGBA { return chart.Ruler(cw, ch, th, k, scale) })
		w.ruler.Show()
	} else {
		w.ruler.Hide()
	}
}

// uprightOf returns where a model of the scene belongs: into the reference's frame as soon as the scan is placed.
func (w *Window) uprightOf(m *shade.Model) *upright {
	s := &w.scene
	switch {
	case m != s.raw || s.parts.Mirrored == nil:
		return &upright{from: geom.Identity()}
	case s.set != nil:
		return &upright{from: s.set.Placement.ReferenceFromScan, box: s.setBox}
	}
	return nil
}

// tellAxes says over the part that it lies as the scanner had it, where that is so: nothing tells then which way up it belongs.
func (w *Window) tellAxes(shown *shade.Model) {
	said := ""
	switch s := &w.scene; {
	case w.otherSide.Visible():
		return
	case shown == s.raw && s.parts.Mirrored != nil && s.placed == nil:
		said = tr("view.unplaced", "not placed yet: as the scanner had it")
	case s.parts.Mirrored == nil && shown != s.reference:
		said = tr("view.alone", "in the scan's own axes: drag to turn it")
	}
	w.scanName.Text = said
	if w.scanName.Refresh(); said == "" {
		w.scanTag.Hide()
	} else {
		w.scanTag.Show()
	}
	w.sides.Refresh()
}

// colours reports whether the stage shows the deviation in colour.
func (w *Window) colours(stage bench.Stage) bool {
	return stage != bench.Parts && w.scene.painted != nil && w.scene.placed != nil
}

// overlay returns what is drawn over the part: the scale bar, and the seams where they belong.
func (w *Window) overlay(stage bench.Stage) func(*image.RGBA, *shade.Picture, float64, bool) {
	th := currentPalette().Theme
	var seams []*gapflush.Result
	var selected *gapflush.Station
	if stage == bench.Seams || stage == bench.Evidence {
		seams = w.bench.Measured()
		if stage == bench.Seams {
			selected = w.bench.Station()
		}
	}
	var drawn *seamDrawing
	if w.drawing != nil {
		drawn, selected = w.drawing.copied(), nil
	}
	var more func(*image.RGBA, *shade.Picture, chart.Theme, float64)
	switch {
	case w.bending != nil:
		more, selected = w.bending.over(), nil
	case w.proposed != nil:
		more, selected = w.proposed.over(), nil
	}
	var calls []chart.CallOut
	if stage == bench.Surface && !w.app.Preferences().Bool(prefNoCalls) {
		calls = callOuts(w.bench.Outcome())
	}
	if stage == bench.Trust {
		more = trustOver(w.bench.Outcome())
	}
	var cuts []*crosscut.Section
	if o := w.bench.Outcome(); o != nil && stage == bench.Surface {
		cuts = o.Sections
	}
	colours, quiet := w.colours(stage), drawn == nil && w.bending == nil && w.proposed == nil
	return func(img *image.RGBA, pic *shade.Picture, scale float64, still bool) {
		chart.Cuts(img, pic, cuts, w.coveredIn(scale), th, scale)
		if len(calls) > 0 {
			chart.CallOuts(img, pic, calls, callRoom(img.Rect.Dx(), img.Rect.Dy(), scale, colours), still, th, scale)
		}
		if len(seams) > 0 {
			chart.Overlay(img, pic, pic.Camera, seams, selected, still && quiet, w.coveredIn(scale), th, scale)
		}
		if drawn != nil {
			drawn.over(img, pic, th, scale)
		}
		if more != nil {
			more(img, pic, th, scale)
		}
		chart.ScaleBar(img, pic.Camera, th, scale)
	}
}

// follow draws the view again for another station, and moves it when the station is out of sight.
func (w *Window) follow() {
	w.view.overlay = w.overlay(w.bench.Shown())
	if st := w.bench.Station(); st != nil && w.bench.Shown() == bench.Seams && w.view.h > 0 {
		x, y, _ := w.view.camera.Project(st.P, w.view.w, w.view.h)
		mx, my := 0.06*float64(w.view.w), 0.06*float64(w.view.h)
		if x < mx || y < my || x > float64(w.view.w)-mx || y > float64(w.view.h)-my {
			w.view.centreOn(st.P)
			return
		}
	}
	w.view.draw()
}

// lookAt turns to the marked station from outside, close enough to see the gap. Where the scan is shown as it was read it is not
// to be seen.
func (w *Window) lookAt() {
	if w.bench.Shown() == bench.Parts && w.bench.Station() != nil {
		w.show(bench.Seams)
	}
	if st := w.bench.Station(); st != nil && w.bench.Shown() != bench.Parts {
		w.view.face(st.P, st.U, lookHeight)
	}
}

// lookAtSpot shows a spot of the placed scan from outside. Which way that is tells the nearest point, which is looked for
// among all of them on a worker.
func (w *Window) lookAtSpot(p geom.Vec) {
	placed := w.bench.Outcome().Placed
	w.worker.aside(func() {
		outward := outwardAt(placed, p)
		w.opt.Post(func() {
			if w.bench.Outcome().Placed == placed {
				w.view.face(p, outward, lookHeight)
			}
		})
	})
}

// outwardAt returns the normal of the point of a placed scan that is nearest to p; zero where it has none.
func outwardAt(placed *app.Placed, p geom.Vec) (outward geom.Vec) {
	if placed == nil || len(placed.Normals) != len(placed.Mesh.Vertices) {
		return outward
	}
	best := math.Inf(1)
	for i, v := range placed.Mesh.Vertices {
		if d := v.Sub(p).Norm2(); d < best {
			best, outward = d, placed.Normals[i]
		}
	}
	return outward
}

// lookHeight, mm: how much is seen when a sentence shows its place; a hand's breadth on each side of the seam.
const lookHeight = 420

// hover returns the words for the surface point under the pointer.
func (w *Window) hover(hit shade.Hit) string {
	s := &w.scene
	if w.bench.Shown() == bench.Parts || s.painted == nil || s.placed == nil || w.busyHands() {
		return ""
	}
	f := s.painted
	if int(hit.Face) >= len(s.set.Mesh.Faces) {
		return ""
	}
	mm, state := 0.0, deviation.Measured
	for k, v := range s.set.Mesh.Faces[hit.Face] {
		if f.State[v] != deviation.Measured {
			state = f.State[v]
		}
		mm += hit.Weights[k] * f.Deviation[v]
	}
	if state == deviation.Measured {
		return figures(words.Signed(mm)) + "  " + w.standing(mm)
	}
	return w.deviationState(state)
}

func (w *Window) standing(mm float64) string {
	switch scale := w.scene.scale; {
	case scale.Inside(mm):
		return tr("hover.inside", "in tolerance")
	case mm > 0:
		return tr("hover.proud", "proud")
	}
	return tr("hover.low", "low")
}

func (w *Window) deviationState(s deviation.State) string {
	switch s {
	case deviation.BeyondReach:
		return tr("hover.beyond", "no value: nothing of the reference within reach")
	case deviation.FacingAway:
		return tr("hover.away", "no value: faces away from the reference")
	}
	return tr("hover.edge", "no value: past the reference's edge")
}

// pickWithin is how near, in layout units, a click must come to a station.
const pickWithin = 14

// picked selects the station under a click, or takes a point of a seam being drawn.
func (w *Window) picked(p *shade.Picture, x, y float64) {
	if p == nil {
		return
	}
	switch {
	case w.pairing != nil:
		w.pairClick(onScan, p, x, y)
		return
	case w.drawing != nil:
		w.seamClick(p, x, y)
		return
	case w.bending != nil:
		w.bendClick(p, x, y)
		return
	case w.proposed != nil:
		w.proposalClick(p, x, y)
		return
	case w.compared != nil:
		return
	}
	if w.bench.Shown() != bench.Seams {
		return
	}
	pw, ph := p.Size()
	best := pickWithin * w.view.scale() * float64(pw) / float64(max(1, w.view.w))
	seam, station := -1, -1
	for k, r := range w.bench.Results() {
		if r == nil {
			continue
		}
		for i := range r.Stations {
			sx, sy, _ := p.Camera.Project(r.Stations[i].P, pw, ph)
			if d := math.Hypot(sx-x, sy-y); d < best {
				best, seam, station = d, k, i
			}
		}
	}
	if seam >= 0 {
		w.mark(seam, station)
	}
}

// refreshInset shows the marked station's profile on the Seams stage.
func (w *Window) refreshInset() {
	r, st := w.bench.Result(), w.bench.Station()
	if w.bench.Shown() != bench.Seams || st == nil || w.busyHands() || w.insetClosed {
		w.insetB.Hide()
		laidOut(w.over)
		return
	}
	seam := r.Seam
	w.inset.set(func(cw, ch int, th chart.Theme, k float64) *image.RGBA { return chart.Station(cw, ch, th, k, seam, st) })
	w.insetB.Show()
	laidOut(w.over)
}

// toggleInset closes the inset, or brings it back.
func (w *Window) toggleInset() {
	w.insetClosed = !w.insetClosed
	w.refreshInset()
	w.showScene() // what is kept free for it
	w.bar.refresh()
}

// key handles plain keys that no widget wanted.
func (w *Window) key(e *fyne.KeyEvent) {
	if w.asking() {
		w.answer(e)
		return
	}
	switch e.Name {
	case fyne.KeyLeft, fyne.KeyRight, fyne.KeyUp, fyne.KeyDown, fyne.KeyHome, fyne.KeyEnd:
		w.walk(e.Name)
	case fyne.KeyEscape:
		w.escape()
	case fyne.KeyReturn, fyne.KeyEnter:
		switch {
		case w.drawing != nil:
			w.finishSeam()
		case w.pairing != nil:
			w.placeByPairs()
		case w.bending != nil:
			w.endBend()
		case w.proposed != nil:
			w.takeProposals()
		default:
			w.lookAt()
		}
	case fyne.KeyBackspace, fyne.KeyDelete:
		switch {
		case w.drawing != nil:
			w.seamBack()
		case w.pairing != nil && w.pairing.chosen >= 0:
			w.removePair(w.pairing.chosen)
		case w.pairing != nil:
			w.pairBack()
		case w.bending != nil:
			w.removeHandle()
		}
	case fyne.KeyF1:
		w.looks(w.showWords)()
	case fyne.KeyF10:
		w.openMenu(0)
	default:
		if name, ok := viewKeys[e.Name]; ok {
			w.view.fit(name)
		}
	}
}

// escape ends the nearest thing that can be ended: handwork, the brush, the work under way.
func (w *Window) escape() {
	switch {
	case w.drawing != nil:
		w.endSeam()
	case w.pairing != nil:
		w.endPairs()
	case w.bending != nil:
		w.endBend()
	case w.proposed != nil:
		w.endProposals()
	case w.compared != nil:
		w.endCompare()
	case w.brush.on:
		w.endBrush()
	default:
		w.bench.Stop()
	}
}

// walk moves along the seam, or from seam to seam.
func (w *Window) walk(k fyne.KeyName) {
	if w.bench.Shown() != bench.Seams || !w.settle() {
		return
	}
	const all = 1 << 30
	switch k {
	case fyne.KeyLeft:
		w.bench.Step(-1)
	case fyne.KeyRight:
		w.bench.Step(1)
	case fyne.KeyHome:
		w.bench.Step(-all)
	case fyne.KeyEnd:
		w.bench.Step(all)
	case fyne.KeyUp:
		w.bench.StepSeam(-1)
	case fyne.KeyDown:
		w.bench.StepSeam(1)
	}
}

// viewKeys are the plain keys of the named views.
var viewKeys = map[fyne.KeyName]string{
	fyne.KeyL: "left", fyne.KeyR: "right", fyne.KeyF: "front", fyne.KeyB: "rear",
	fyne.KeyT: "top", fyne.KeyU: "bottom", fyne.KeyQ: "three-quarter",
}

// doubled ends a seam being drawn; reports whether the double click is used up.
func (w *Window) doubled() bool {
	if w.drawing == nil {
		return false
	}
	w.finishSeam()
	return true
}

// lookAtSeam shows the marked seam as a whole.
func (w *Window) lookAtSeam() {
	seam, _ := w.bench.Selection()
	if job := w.bench.Job(); seam < len(job.Seams) {
		box := geom.BoxOf(job.Seams[seam].Path)
		if box.Empty() { // it is to be found, and has not been yet
			return
		}
		var outward geom.Vec
		if r := w.bench.Result(); r != nil {
			for i := range r.Stations {
				outward = outward.Add(r.Stations[i].U)
			}
		}
		w.view.face(box.Center(), outward.Unit(), max(lookHeight, 1.3*box.Diagonal()))
	}
}
