package ui

import (
	"image"
	"image/color"
	"math"
	"slices"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// The two sides of a pair.
const (
	onScan = iota
	onReference
)

// leastPairs is how many pairs a placement needs.
const leastPairs = 3

// picked is a pair of points being picked.
type picked struct {
	at  [2]geom.Vec // mm, on the scan in its own frame, on the reference in its frame
	has [2]bool
}

func (p picked) whole() bool { return p.has[onScan] && p.has[onReference] }

// pairing is a placement by pairs of points being made, click by click.
type pairing struct {
	parts    *app.Parts
	placed   *app.Placed // in whose frame the scan is shown; nil: its own
	list     []picked    // only the last may lack a side
	chosen   int         // -1: none
	side     int         // that is held
	together bool        // both views turn as one
	missed   bool        // the last click met nothing
	fit      align.Placement
	err      error // of the fit; nil also when there are too few pairs
}

// pairs returns the pairs that have both sides.
func (p *pairing) pairs() []align.Pair {
	var out []align.Pair
	for _, x := range p.list {
		if x.whole() {
			out = append(out, align.Pair{Scan: x.at[onScan], Reference: x.at[onReference]})
		}
	}
	return out
}

// shown returns where a side of a pair lies in its view.
func (p *pairing) shown(k, side int) geom.Vec {
	at := p.list[k].at[side]
	if side == onScan && p.placed != nil {
		return p.placed.Placement.ReferenceFromScan.Apply(at)
	}
	return at
}

// own returns a point of a view in the frame that pairs are written in: to a
// hundredth of a millimetre, as the inspection file keeps it.
func (p *pairing) own(at geom.Vec, side int) geom.Vec {
	if side == onScan && p.placed != nil {
		at = p.placed.Placement.ReferenceFromScan.Inverse().Apply(at)
	}
	return geom.Vec{X: hundredth(at.X), Y: hundredth(at.Y), Z: hundredth(at.Z)}
}

func hundredth(mm float64) float64 { return math.Round(mm*100) / 100 }

// set puts a side of pair k at a point of its view.
func (p *pairing) set(k, side int, at geom.Vec) {
	p.list[k].at[side], p.list[k].has[side] = p.own(at, side), true
	p.solve()
}

// solve places by the pairs there are.
func (p *pairing) solve() {
	p.fit, p.err = align.Placement{}, nil
	pairs := p.pairs()
	if len(pairs) < leastPairs {
		return
	}
	box := geom.EmptyBox()
	if p.parts.Mirrored != nil {
		box = p.parts.Box(p.parts.Mirrored)
	}
	p.fit, p.err = align.FitPairs(pairs, box)
}

// ready reports whether the pairs place the scan.
func (p *pairing) ready() bool { return len(p.pairs()) >= leastPairs && p.err == nil }

// beginPairs starts, or gives up, picking pairs. It begins with those of the job.
func (w *Window) beginPairs() {
	if w.pairing != nil {
		w.endPairs()
		return
	}
	if !w.settle() {
		return
	}
	job, parts := w.bench.Job(), w.bench.Outcome().Parts
	if job == nil || parts == nil || parts.Mirrored == nil {
		return
	}
	if w.scene.reference == nil || w.scene.parts != parts {
		w.scene.pairsThen = true // the reference is made ready for drawing first
		w.refreshScene()
		return
	}
	p := &pairing{parts: parts, placed: w.shownPlaced(), chosen: -1}
	p.together = p.placed != nil
	for _, q := range job.Place.Pairs {
		p.list = append(p.list, picked{at: [2]geom.Vec{q.Scan, q.Reference}, has: [2]bool{true, true}})
	}
	p.solve()
	w.pairing = p
	w.view.cursor, w.other.cursor = desktop.CrosshairCursor, desktop.CrosshairCursor
	w.view.name, w.other.name = firstView, firstView
	w.view.placed, w.other.placed = false, false
	w.bench.Show(bench.Place)
	w.win.Canvas().Focus(w.view) // which hands on return, backspace and escape
}

// shownPlaced returns the placement whose scan can be shown, nil when there is none.
func (w *Window) shownPlaced() *app.Placed {
	if placed := w.bench.Outcome().Placed; placed != nil && w.scene.set == placed && w.scene.placed != nil {
		return placed
	}
	return nil
}

func (w *Window) endPairs() {
	w.dropPairs()
	w.bench.Show(bench.Place)
}

// dropPairs forgets the pairs being picked.
func (w *Window) dropPairs() {
	if w.pairing == nil {
		return
	}
	w.pairing = nil
	w.view.cursor = desktop.DefaultCursor
	w.oneView()
}

// showPairs shows scan and reference side by side.
func (w *Window) showPairs() {
	s, p := &w.scene, w.pairing
	p.placed = w.shownPlaced()
	if p.placed == nil {
		p.together = false
	}
	m, on := s.raw, s.parts.Scan.Mesh
	if p.placed != nil {
		m, on = s.placed, s.parts.Mirrored
	}
	room := margins{left: 8, top: 44, right: 8, bottom: 40}
	w.view.keepFree(room)
	w.other.keepFree(room)
	w.view.overlay, w.other.overlay = w.pairOverlay(onScan), w.pairOverlay(onReference)
	w.view.moved, w.other.moved = w.turned(w.other), w.turned(w.view)
	w.bothViews(tr("pairs.side.scan", "Scan"), tr("pairs.side.reference", "Reference"))
	w.view.show([]*shade.Model{m}, s.parts.Box(on), s.first[on])
	w.other.show([]*shade.Model{s.reference}, s.parts.Box(s.parts.Mirrored), s.first[s.parts.Mirrored])
	w.ruler.Hide()
	w.insetB.Hide()
}

// turned lets the other view follow where both turn together.
func (w *Window) turned(other *view) func(shade.Camera) {
	return func(c shade.Camera) {
		if w.otherSide.Visible() && (w.compared != nil || w.pairing != nil && w.pairing.together) {
			other.same(c)
		}
	}
}

// turnTogether couples the two views, or lets each turn by itself.
func (w *Window) turnTogether(on bool) {
	p := w.pairing
	if p == nil || p.together == on {
		return
	}
	if p.together = on && p.placed != nil; p.together {
		w.other.same(w.view.camera)
	}
}

// pairOverlay draws the points of a side, and the scale bar.
func (w *Window) pairOverlay(side int) func(*image.RGBA, *shade.Picture, float64, bool) {
	th, p := currentPalette().Theme, w.pairing
	var marks []chart.Mark
	wrong := -1
	if p.ready() {
		wrong = p.fit.Pairs.Wrong
	}
	for k, x := range p.list {
		if x.has[side] {
			marks = append(marks, chart.Mark{At: p.shown(k, side), Label: strconv.Itoa(k + 1), Chosen: k == p.chosen || !x.whole(), Doubt: k == wrong})
		}
	}
	return func(img *image.RGBA, pic *shade.Picture, scale float64, _ bool) {
		chart.Marks(img, pic, pic.Camera, marks, th, scale)
		chart.ScaleBar(img, pic.Camera, th, scale)
	}
}

// pairsChanged follows a change of the pairs.
func (w *Window) pairsChanged() {
	w.redrawPairs()
	w.card.refresh()
	w.strip.refresh(bench.ResultsChanged)
}

func (w *Window) redrawPairs() {
	w.view.overlay, w.other.overlay = w.pairOverlay(onScan), w.pairOverlay(onReference)
	w.view.draw()
	w.other.draw()
}

// pairClick takes a click at a pixel of a picture of one side.
func (w *Window) pairClick(side int, pic *shade.Picture, x, y float64) {
	p := w.pairing
	if p == nil || pic == nil {
		return
	}
	hit, ok := pic.PickHit(int(x), int(y))
	if p.missed = !ok; !ok {
		w.card.refresh()
		return
	}
	last := len(p.list) - 1
	if last < 0 || p.list[last].whole() {
		p.list = append(p.list, picked{})
		last++
	}
	p.chosen = -1
	p.set(last, side, hit.At)
	w.trace.put(Trace{Event: "pair", Name: [...]string{"scan", "reference"}[side], Station: len(p.pairs())})
	w.pairsChanged()
}

// grabPair takes hold of a point of a side that lies under the pointer, in device pixels.
func (w *Window) grabPair(side int, v *view) func(x, y float64) bool {
	return func(x, y float64) bool {
		p := w.pairing
		if p == nil || v.h == 0 {
			return false
		}
		best, at := pickWithin*v.scale(), -1
		for k, q := range p.list {
			if !q.has[side] {
				continue
			}
			sx, sy, _ := v.camera.Project(p.shown(k, side), v.w, v.h)
			if d := math.Hypot(sx-x, sy-y); d < best {
				best, at = d, k
			}
		}
		if at < 0 {
			return false
		}
		p.chosen, p.side = at, side
		w.pairsChanged()
		return true
	}
}

// haulPair moves the point that is held.
func (w *Window) haulPair(pic *shade.Picture, x, y float64) {
	p := w.pairing
	hit, ok := pic.PickHit(int(x), int(y))
	if p == nil || !ok || p.chosen < 0 || p.chosen >= len(p.list) {
		return
	}
	p.set(p.chosen, p.side, hit.At)
	w.redrawPairs()
}

// dropPair lets the point go.
func (w *Window) dropPair(bool) {
	if w.pairing != nil {
		w.pairsChanged()
	}
}

// pairBack takes the last point back.
func (w *Window) pairBack() {
	p := w.pairing
	last := len(p.list) - 1
	switch {
	case last < 0:
		return
	case p.list[last].whole():
		p.list[last].has[onReference] = false
	default:
		p.list = p.list[:last]
	}
	p.chosen, p.missed = -1, false
	p.solve()
	w.pairsChanged()
}

// removePair takes a pair out.
func (w *Window) removePair(k int) {
	p := w.pairing
	if k < 0 || k >= len(p.list) {
		return
	}
	p.list = slices.Delete(p.list, k, k+1)
	p.chosen = -1
	p.solve()
	w.pairsChanged()
}

// placeByPairs makes the pairs part of the job and places by them.
func (w *Window) placeByPairs() {
	if !w.pairing.ready() {
		return
	}
	pairs := w.pairing.pairs()
	if err := w.checked(func(i *inspection.Inspection) { i.Place.Method, i.Place.Pairs = inspection.Pairs, pairs }); err != nil {
		w.failed(err)
		return
	}
	w.endPairs()
	w.bench.Edit(tr("edit.pairs", "placement by pairs"), func(i *inspection.Inspection) {
		i.Place.Method, i.Place.Pairs = inspection.Pairs, pairs
	})
}

// pairingCard says what to do while pairs are picked, and lists them.
func (c *card) pairingCard() []fyne.CanvasObject {
	w, p := c.w, c.w.pairing
	whole := len(p.pairs())
	objects := []fyne.CanvasObject{c.headline(bench.Working, c.pairingHeadline())}
	if p.missed {
		objects = append(objects, c.paragraph(tr("draw.missed", "There is nothing of the part where you clicked last: turn or zoom, and click on it.")))
	}
	objects = append(objects, c.paragraph(tr("pairs.how", "Corners, holes and hems can be found again on both. Spread the pairs over the whole part. A ring can be dragged.")))
	if p.placed != nil {
		both := newTick(tr("pairs.together", "Turn both together"), w.turnTogether)
		both.Checked = p.together
		objects = append(objects, both)
	}
	if len(p.list) > 0 {
		objects = append(objects, c.caption(tr("pairs.list", "PAIRS")))
	}
	for k := range p.list {
		show := func() { w.showPair(k) }
		remove := newIconButton("", theme.DeleteIcon(), func() { w.removePair(k) })
		remove.Importance = widget.LowImportance
		objects = append(objects, container.NewBorder(nil, nil, nil, remove, newSentence(c.pairLine(k), show)))
	}
	if p.err != nil {
		objects = append(objects, c.paragraph(asSentence(strings.TrimSuffix(sentenceOf(p.err), ": "+told(align.ErrPairs.Error())))))
	}
	for _, note := range p.fit.Notes {
		objects = append(objects, c.paragraph(note))
	}
	if p.fit.NoSigma != "" {
		objects = append(objects, c.paragraph(tr("pairs.fourth", "A fourth pair tells how far off the placement is, and which pair is wrong.")))
	}
	place := newButton(tr("pairs.place", "Place by these pairs"), w.placeByPairs)
	place.Importance = widget.HighImportance
	enable(place, whole >= leastPairs && p.err == nil)
	back := newButton(tr("draw.back", "Take the last click back"), w.pairBack)
	enable(back, len(p.list) > 0)
	return append(objects, container.NewVBox(place, back, newButton(tr("draw.stop", "Stop"), w.endPairs)))
}

func (c *card) pairingHeadline() string {
	p := c.w.pairing
	data := map[string]any{"N": strconv.Itoa(len(p.pairs()) + 1)}
	if n := len(p.list); n > 0 && !p.list[n-1].whole() {
		if p.list[n-1].has[onScan] {
			return trf("pairs.reference", "Pair {{.N}}: click the same place on the reference", data)
		}
		return trf("pairs.scan", "Pair {{.N}}: click the same place on the scan", data)
	}
	if len(p.pairs()) >= leastPairs && p.err != nil {
		return tr("pairs.none", "These pairs do not place the scan: mend one, or take it out")
	}
	if len(p.pairs()) >= leastPairs {
		return trf("pairs.more", "Place by the pairs, or click pair {{.N}}", data)
	}
	return trf("pairs.next", "Pair {{.N}}: click a place on the scan or on the reference", data)
}

// pairLine words a pair and what the placement leaves of it.
func (c *card) pairLine(k int) string {
	p := c.w.pairing
	data := map[string]any{"K": strconv.Itoa(k + 1)}
	if !p.list[k].whole() {
		return trf("pairs.line.open", "{{.K}}: one side only", data)
	}
	if !p.ready() || k >= len(p.fit.Pairs.Left) {
		return trf("pairs.line", "{{.K}}: both sides", data)
	}
	l := p.fit.Pairs.Left[k]
	data["Left"], data["Out"], data["Usual"] = thousandth(l.Left), thousandth(l.Out), thousandth(l.Usual)
	switch {
	case p.fit.Pairs.Wrong == k:
		return trf("pairs.line.wrong", "{{.K}}: {{.Left}} mm left; without it {{.Out}} mm off, where {{.Usual}} mm is usual: does not fit the others", data)
	case l.Usual > 0:
		return trf("pairs.line.left", "{{.K}}: {{.Left}} mm left; without it {{.Out}} mm off", data)
	}
	return trf("pairs.line.three", "{{.K}}: {{.Left}} mm left", data)
}

// showPair shows both places of a pair.
func (w *Window) showPair(k int) {
	p := w.pairing
	p.chosen = k
	w.redrawPairs()
	together := p.together
	p.together = false // each shows its own place
	for side, v := range []*view{w.view, w.other} {
		if p.list[k].has[side] {
			v.near(p.shown(k, side), lookHeight)
		}
	}
	p.together = together
}

// pairRows is the table of pairs with what a placement leaves of them.
func (s *strip) pairRows(fit *align.PairFit) fyne.CanvasObject {
	rows := [][]string{{tr("pairs.head.pair", "PAIR"), tr("pairs.head.left", "LEFT, mm"), tr("pairs.head.out", "LEFT OUT, mm"), tr("pairs.head.usual", "USUAL, mm")}}
	marks := map[[2]int]color.RGBA{}
	for k, l := range fit.Left {
		out, usual := "–", "–"
		if l.Usual > 0 {
			out, usual = thousandth(l.Out), thousandth(l.Usual)
		}
		name := strconv.Itoa(k + 1)
		if k == fit.Wrong {
			name += "  " + tr("pairs.wrong", "does not fit")
			marks[[2]int{0, k + 1}], marks[[2]int{2, k + 1}] = currentPalette().Bad, currentPalette().Bad
		}
		rows = append(rows, []string{name, thousandth(l.Left), out, usual})
	}
	table := container.New(columns{n: 4, gapX: 22, gapY: 5}, s.cells(rows, marks)...)
	return container.New(fixedHeight(stripLeast), padded(8, 8, 0, 0, container.NewVScroll(table)))
}

// pairing shows how sure the pairs are of the placement, while they are picked.
func (s *strip) pairing() {
	p := s.w.pairing
	if !p.ready() {
		n := leastPairs - len(p.pairs())
		if n <= 0 {
			s.put(s.quiet(tr("strip.pairs.none", "These pairs do not place the scan; the card says why.")))
			return
		}
		s.put(s.quiet(trf("strip.pairs.more", "Pairs still needed: {{.N}}. What they leave appears here.", map[string]any{"N": strconv.Itoa(n)})))
		return
	}
	motions := container.New(fixedHeight(stripLeast), container.NewCenter(s.motions(&app.Placed{Placement: p.fit})))
	s.put(container.NewBorder(nil, nil, padded(0, 0, 20, 40, motions), nil, s.pairRows(p.fit.Pairs)))
}
