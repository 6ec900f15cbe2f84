package ui

import (
	"context"
	"image/color"
	"io"
	"strings"
	"sync/atomic"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/words"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

// Options are what a window needs from outside.
type Options struct {
	Services bench.Services
	Post     func(func()) // brings a function to the drawing thread
	// Demo writes the demo job into dir and returns its inspection file; nil: no demo.
	Demo    func(ctx context.Context, dir string, report app.Progress) (string, error)
	DemoDir string
	// StateDir is where notes about unsaved changes go; "": none are kept.
	StateDir string
	Version  string
	Trace    io.Writer // lines of JSON about what happens; nil: none
	// Closed is called when the window is closed and what was worked on is kept; nil: nobody wants to know.
	Closed func()
}

// Window is the bench with the job on it.
type Window struct {
	app   fyne.App
	win   fyne.Window
	look  *Look
	bench *bench.Bench
	opt   Options
	words words.Writer

	worker worker
	trace  *tracer

	header    *header
	busyDoors *workBox
	rows      []*stageRow
	work      *workBox
	view      *view
	inset     *plot
	ruler     *plot
	insetB    *fyne.Container
	// insetClose closes the inset; insetClosed: the user has closed it.
	insetClose  *pushButton
	insetClosed bool
	bar         *viewBar
	over        *fyne.Container // what floats over the view
	// other is the view of the reference beside the scan's, while pairs are picked.
	other     *view
	otherSide *fyne.Container
	scanName  *canvas.Text
	otherName *canvas.Text
	scanTag   *fyne.Container // names the view of the scan meanwhile
	sides     *fyne.Container
	lit       *canvas.Text // what the brush lights
	litTag    *fyne.Container
	// covered is what floats over the view, for its painter.
	covered atomic.Pointer[[]box]
	card    *card
	strip   *strip
	room    *fyne.Container // doors, or the bench
	doors   fyne.CanvasObject
	table   fyne.CanvasObject
	paints  []func() // bring colours of the palette up to date

	scene      scene
	drawing    *seamDrawing // a new seam being drawn, or nil
	pairing    *pairing     // pairs being picked, or nil
	bending    *bending     // a seam's path whose handles are shown, or nil
	proposed   *proposals   // shut lines that were found, or nil
	brush      brush
	compared   *comparison // with another result, or nil
	seamGround readyGround
	told       map[bench.Stage]string
	history    string                  // what was undone or done again last, until the next change
	remembered string                  // file of the job that was put on top of the recent ones last
	afterwards func()                  // is done when the work under way is, unless that is stopped
	seen       string                  // what traceSeen said last
	tried      func()                  // opens again what was opened last
	otherFile  func()                  // asks for another file than that; nil: opening it again does
	chooser    fyne.CanvasObject       // the question for a file that was asked last
	lookedAt   map[string]bool         // inspection files beside which unsaved changes were looked for
	files      fileWatch               // of the meshes
	atWork     bool                    // when progress was told last
	swappedOf  *app.Parts              // parts that were looked at whether they are those of before
	openWith   func(path string) error // opens a file with the program the system has for it

	yields      fyne.CanvasObject // the question that gives way to what is dropped
	yield       func()            // takes it away
	held        *heldDrop         // what was dropped while something was asked; nil: nothing
	pairNow     func() []string   // what stands in the question for a scan and a reference; nil: something else was asked since
	pairGuessed string            // which of that was guessed
}

// New makes the window; Show brings it up.
func New(a fyne.App, o Options) *Window {
	w := &Window{app: a, opt: o, look: &Look{Mode: a.Preferences().String(prefLook)}, words: writer(), trace: newTracer(o.Trace), told: map[bench.Stage]string{}, lookedAt: map[string]bool{}}
	a.Settings().SetTheme(w.look)
	w.openWith = w.systemOpen
	w.bench = bench.New(o.Services, o.Post)
	w.bench.Listen = w.changed
	w.bench.Report = w.failed
	w.bench.Replacing = w.safely
	if o.StateDir != "" {
		w.bench.KeepUnsaved(o.StateDir)
	}
	w.win = a.NewWindow(tr("window.title", "Shutline"))
	w.build()
	w.win.SetMainMenu(w.menu())
	w.listenForMenus()
	w.win.Resize(fyne.NewSize(1280, 800))
	w.win.SetPadded(false)
	w.win.SetOnDropped(w.Dropped)
	w.win.SetCloseIntercept(w.askClose)
	w.win.Canvas().SetOnTypedKey(w.key)
	w.changed(bench.JobChanged)
	a.Lifecycle().SetOnEnteredForeground(func() { w.opt.Post(w.lookAtFiles) })
	if w.trace != nil {
		w.view.meter = &meter{post: w.opt.Post, done: func(r Rates) { w.trace.put(Trace{Event: "dragged", Rates: &r}) }}
		w.view.seen = w.traceSeen
		a.Lifecycle().SetOnStarted(func() { w.opt.Post(func() { w.trace.put(Trace{Event: "ready"}) }) })
		go w.keepTracing()
	}
	return w
}

// Window returns the toolkit's window.
func (w *Window) Window() fyne.Window { return w.win }

// ground returns a rectangle that keeps a colour of the palette when the theme changes.
func (w *Window) ground(pick func(palette) color.RGBA) *canvas.Rectangle {
	r := canvas.NewRectangle(pick(currentPalette()))
	w.paints = append(w.paints, func() { r.FillColor = pick(currentPalette()); r.Refresh() })
	return r
}

func (w *Window) build() {
	measureLetters()
	w.worker = worker{post: w.opt.Post, failed: w.failed}
	w.header = newHeader(w)
	w.rows = make([]*stageRow, len(bench.Stages()))
	for _, s := range bench.Stages() {
		w.rows[s] = newStageRow(stageName(s), func() { w.show(s) })
	}
	w.work = newWorkBox(w.bench.Stop)
	w.view = newView(w.worker, func() int64 { return time.Now().UnixMilli() })
	w.view.overlay, w.view.picked, w.view.doubled, w.view.words, w.view.typed = nil, w.picked, w.doubled, w.hover, w.key
	w.view.grab, w.view.haul, w.view.drop = w.grab, w.haul, w.drop
	w.other = newView(w.worker, func() int64 { return time.Now().UnixMilli() })
	w.other.typed, w.other.picked = w.key, func(p *shade.Picture, x, y float64) { w.pairClick(onReference, p, x, y) }
	w.other.grab, w.other.haul, w.other.drop = w.grabPair(onReference, w.other), w.haulPair, w.dropPair
	w.inset = newPlot(w.worker, fyne.NewSize(40, 30))
	w.insetClose = newIconButton("", theme.WindowCloseIcon(), w.toggleInset)
	w.insetClose.Importance = widget.LowImportance
	w.ruler = newPlot(w.worker, fyne.NewSize(rulerWidth, rulerReadTall))
	w.bar = newViewBar(w)
	w.card = newCard(w)
	w.strip = newStrip(w)

	stages := container.New(layout.NewCustomPaddedVBoxLayout(0))
	for _, s := range bench.Stages() {
		stages.Add(w.rows[s])
	}
	w.insetB = container.NewStack(w.frameOf(w.inset), container.New(corner{}, w.insetClose))
	w.lit = w.tagText("")
	w.litTag = w.tagOf(w.lit)
	w.over = container.New(corners{&w.bar.flow, w.cover}, w.bar.content, w.ruler, w.insetB, w.litTag)
	w.scanName, w.otherName = w.tagText(""), w.tagText("")
	w.scanTag = w.tagOf(w.scanName)
	reference := w.tagOf(w.otherName)
	reference.Show()
	w.otherSide = around(nil, nil, w.hairline(), nil, container.NewStack(w.other, container.New(topRight{}, reference)))
	w.otherSide.Hide()
	w.sides = container.New(halves{}, container.NewStack(w.view, w.over, container.New(topRight{}, w.scanTag)), w.otherSide)
	rail := w.on(func(p palette) color.RGBA { return p.rail }, around(stages, w.work.content, nil, nil, nil))
	w.strip.ground = w.ground(func(p palette) color.RGBA { return p.Paper })
	strip := container.NewStack(w.strip.ground, w.strip.content)
	upper := around(nil, nil, around(nil, nil, nil, w.hairline(), container.New(fixedWidth(railWidth), rail)),
		around(nil, nil, w.hairline(), nil, container.New(fixedWidth(cardWidth), w.card.content)), w.sides)
	w.table = container.New(overStrip{}, upper, around(w.hairline(), nil, nil, nil, strip))
	w.doors = w.newDoors()
	w.room = container.NewStack(w.doors, w.table)
	head := around(nil, w.hairline(), nil, nil, w.on(func(p palette) color.RGBA { return p.Panel }, w.header.content))
	// The bench and the card stand on the window's own ground (see Look.Color): another on top of it would be painted with every frame.
	w.win.SetContent(around(head, nil, nil, nil, w.room))
}

// on puts an object on a ground of the palette's.
func (w *Window) on(pick func(palette) color.RGBA, o fyne.CanvasObject) fyne.CanvasObject {
	return container.NewStack(w.ground(pick), o)
}

// hairline is a thin line between two parts of the window.
func (w *Window) hairline() fyne.CanvasObject {
	r := w.ground(func(p palette) color.RGBA { return p.edge })
	r.SetMinSize(fyne.NewSize(1, 1))
	return r
}

// frameOf puts a thin frame around what floats over the view.
func (w *Window) frameOf(o fyne.CanvasObject) fyne.CanvasObject {
	r := canvas.NewRectangle(currentPalette().Paper)
	r.StrokeWidth = 1
	paint := func() {
		p := currentPalette()
		r.FillColor, r.StrokeColor = p.Paper, p.edge
		r.Refresh()
	}
	paint()
	w.paints = append(w.paints, paint)
	return container.NewStack(r, padded(1, 1, 1, 1, o))
}

// stageName returns the name of a stage in the user's language.
func stageName(s bench.Stage) string {
	switch s {
	case bench.Parts:
		return tr("stage.parts", "Parts")
	case bench.Trust:
		return tr("stage.trust", "Trust")
	case bench.Place:
		return tr("stage.place", "Place")
	case bench.Surface:
		return tr("stage.surface", "Surface")
	case bench.Seams:
		return tr("stage.seams", "Seams")
	}
	return tr("stage.evidence", "Evidence")
}

// Show opens the window.
func (w *Window) Show() {
	w.win.Show()
	w.lookForUnsaved()
}

// changed brings the screen up to date with the bench.
func (w *Window) changed(c bench.Change) {
	w.dropHandwork()
	switch c {
	case bench.ProgressChanged:
		if _, _, running := w.bench.Running(); running != w.atWork {
			if w.atWork = running; running {
				w.lookAtFiles()
			}
		}
		w.work.set(w.bench.Running())
		w.refreshRail()
		w.card.worked()
		w.restScene()
		w.goOn()
		return
	case bench.ColoursChanged:
		w.refreshScene()
		return
	case bench.KeptChanged:
		w.sayKept()
		return
	case bench.JobChanged:
		w.history = ""
		w.header.refresh()
		w.remember()
		w.lookBeside()
		w.saySwapped()
		if w.bench.Job() != nil {
			w.trace.put(Trace{Event: "job", Text: w.bench.Job().Title})
		}
	case bench.SelectionChanged:
		seam, station := w.bench.Selection()
		w.trace.put(Trace{Event: "select", Seam: seam + 1, Station: station + 1})
		if w.bench.Shown() == bench.Seams && w.card.seam != seam {
			w.card.renew()
		}
	case bench.StageShown:
		w.trace.put(Trace{Event: "shown", Stage: w.bench.Shown().String()})
	}
	if w.bench.Job() == nil {
		w.doors.Show()
		w.table.Hide()
	} else {
		w.doors.Hide()
		w.table.Show()
	}
	w.refreshRail()
	switch {
	case c == bench.StageShown:
		w.refreshScene()
		w.card.renew()
	case c == bench.JobChanged:
		w.refreshScene()
		w.card.follow()
	case c != bench.SelectionChanged:
		w.refreshScene()
		w.card.refresh()
	default:
		w.card.selected()
		w.follow()
	}
	w.refreshInset()
	w.strip.refresh(c)
}

// dropHandwork ends what is being drawn or picked where the stage or what it stands on is another one.
func (w *Window) dropHandwork() {
	shown, o := w.bench.Shown(), w.bench.Outcome()
	if d := w.drawing; d != nil && (shown != bench.Seams || o.Placed != d.placed) {
		w.dropSeam()
	}
	if p := w.pairing; p != nil && (shown != bench.Place || o.Parts != p.parts) {
		w.dropPairs()
	}
	if p := w.proposed; p != nil && (shown != bench.Seams || o.Placed != p.placed) {
		w.proposed = nil
	}
	if x := w.compared; x != nil && (shown != bench.Surface || w.bench.Job() != x.job) {
		w.dropCompare()
	}
	w.followBend()
	if w.brush.on && (shown != bench.Surface || o.Compared != w.brush.of) {
		w.brush.on = false
		w.refreshLit()
		w.paintBrush()
	}
}

// busyHands reports whether something is being drawn or picked, which has the card to itself.
func (w *Window) busyHands() bool {
	return w.drawing != nil || w.pairing != nil || w.bending != nil || w.proposed != nil || w.compared != nil
}

// grab, haul and drop move what a hand has put on the part.
func (w *Window) grab(x, y float64) bool {
	if w.pairing != nil {
		return w.grabPair(onScan, w.view)(x, y)
	}
	return w.grabHandle(x, y)
}

func (w *Window) haul(p *shade.Picture, x, y float64) {
	if w.pairing != nil {
		w.haulPair(p, x, y)
	} else {
		w.haulHandle(p, x, y)
	}
}

func (w *Window) drop(moved bool) {
	if w.pairing != nil {
		w.dropPair(moved)
	} else {
		w.dropHandle(moved)
	}
}

// tagText is the text of a tag over a view.
func (w *Window) tagText(s string) *canvas.Text {
	t := text(s, sizeText, currentPalette().Ink, true)
	w.paints = append(w.paints, func() { t.Color = currentPalette().Ink; t.Refresh() })
	return t
}

// layoutEvery is how often a traced window says where its parts lie; they are
// known only once they were drawn.
const layoutEvery = 100 * time.Millisecond

func (w *Window) keepTracing() {
	for range time.Tick(layoutEvery) {
		w.opt.Post(w.traceLayout)
	}
}

// traceSeen says that the part is on the screen, at once when it gets or loses its colours, and whenever it rests.
func (w *Window) traceSeen(f finished) {
	now := w.bench.Shown().String() + " plain"
	if w.colours(w.bench.Shown()) && f.asked.After(w.scene.since) {
		now = w.bench.Shown().String() + " coloured"
	}
	if now == w.seen && !f.still {
		return
	}
	w.seen = now
	stage, state, _ := strings.Cut(now, " ")
	w.trace.put(Trace{Event: "seen", Stage: stage, State: state})
}

func (w *Window) traceLayout() {
	w.trace.layout("strip", w.strip.content)
	w.trace.layout("view", w.view)
	w.trace.layout("other view", w.other)
	for name, b := range map[string]*pushButton{"pairs": w.bar.pairs, "new seam": w.bar.seams, "find seams": w.bar.find, "move path": w.bar.path} {
		w.trace.layout(name, b)
	}
	w.trace.layout("write", w.header.write)
	if c := w.card; c.fold != nil && c.settings != nil {
		w.trace.layout("settings", c.fold)
		if t := c.settings.tolerance; t != nil {
			w.trace.layout("tolerance", t)
		}
	}
	for i, r := range w.rows {
		w.trace.layout("stage "+bench.Stage(i).String(), r)
	}
}

func (w *Window) refreshRail() {
	for i, r := range w.rows {
		s := bench.Stage(i)
		lamp, line := w.bench.Lamp(s), w.line(s)
		r.set(lamp, line, w.bench.Job() != nil && w.bench.Shown() == s)
		if now := lamp.String() + line; w.told[s] != now && w.bench.Job() != nil {
			w.told[s] = now
			w.trace.put(Trace{Event: "stage", Stage: s.String(), State: lamp.String(), Line: line})
		}
	}
}

// writtenLine says beside a lamp of the verdict that there is evidence: a cross alone beside "written" reads as if
// it had failed.
func writtenLine(v verdict.Verdict) string {
	switch v {
	case verdict.Conforms:
		return tr("line.written.good", "written: conforms")
	case verdict.DoesNotConform:
		return tr("line.written.bad", "written: out")
	case verdict.Undecided:
		return tr("line.written.open", "written: undecided")
	}
	return tr("line.written", "written")
}

// line returns a stage's one line of state.
func (w *Window) line(s bench.Stage) string {
	b, o := w.bench, w.bench.Outcome()
	switch {
	case b.Job() == nil:
		return ""
	case b.Lamp(s) == bench.Working:
		return tr("line.working", "working …")
	case b.Lamp(s) == bench.Failed:
		return tr("line.failed", "failed")
	case !b.Applies(s) && s == bench.Seams:
		return tr("line.noseams", "no seams yet")
	case !b.Applies(s):
		return tr("line.noreference", "no reference")
	case s == bench.Evidence && b.Written != "" && b.Complete():
		return writtenLine(o.Verdict)
	case s == bench.Evidence && b.IsStale(s):
		return tr("line.stale", "out of date")
	case s == bench.Evidence:
		return tr("line.notwritten", "not written")
	case !b.IsDone(s):
		return tr("line.notdone", "not done")
	case b.IsStale(s):
		return tr("line.stale", "out of date")
	}
	switch s {
	case bench.Place:
		return w.words.PlaceLine(o.Placed)
	case bench.Surface:
		return w.words.SurfaceLine(o.Compared)
	case bench.Trust:
		return w.trustLine(o)
	case bench.Seams:
		return w.words.SeamsLine(o.Seams)
	}
	return trf("line.parts", "{{.N}} triangles", map[string]any{"N": words.Count(len(o.Parts.Scan.Mesh.Faces))})
}

// repaint follows a change of the theme.
func (w *Window) repaint() {
	w.app.Settings().SetTheme(w.look)
	for _, paint := range w.paints {
		paint()
	}
	w.header.refresh()
	w.card.renew()
	w.changed(bench.ResultsChanged)
	w.inset.ask()
	w.ruler.ask()
	w.strip.repaint()
}

// workBox says what is being done, how far it is, and stops it.
type workBox struct {
	content *fyne.Container
	what    *widget.Label
	bar     *widget.ProgressBar
	stop    *pushButton
}

func newWorkBox(stop func()) *workBox {
	b := &workBox{what: widget.NewLabel(""), bar: widget.NewProgressBar(), stop: newButton(tr("work.stop", "Stop"), stop)}
	b.what.Wrapping = fyne.TextWrapWord
	b.what.SizeName = "helperText"
	b.content = padded(6, 8, 8, 8, container.NewVBox(b.what, b.bar, b.stop))
	b.content.Hide()
	return b
}

func (b *workBox) set(what string, share float64, running bool) {
	if !running {
		b.content.Hide()
		return
	}
	b.what.SetText(doing(what))
	b.bar.SetValue(share)
	b.content.Show()
}
