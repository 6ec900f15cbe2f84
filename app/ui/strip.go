package ui

import (
	"image"
	"image/color"
	"os"
	"path/filepath"
	"sync"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/words"
	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/mesh"
	"shutline/mesh/meshio"
	"shutline/mesh/quality"
)

// strip is the plot at the bottom that belongs to the stage.
type strip struct {
	w       *Window
	content *fyne.Container
	ground  *canvas.Rectangle
	chart   *plot           // Surface and Seams: the whole width
	table   *fyne.Container // Place, Parts, Evidence
	values  deviations
}

// deviations are the measured ones and their areas, gathered once.
type deviations struct {
	of  *app.Compared
	get func() (mm, mm2 []float64)
}

func newStrip(w *Window) *strip {
	s := &strip{w: w, table: container.NewStack()}
	s.chart = newPlot(w.worker, fyne.NewSize(400, stripLeast))
	s.chart.typed = w.key
	s.content = container.NewStack(s.chart)
	return s
}

// refresh shows what belongs to the stage.
func (s *strip) refresh(c bench.Change) {
	b := s.w.bench
	if b.Job() == nil || b.Outcome().Parts == nil {
		return
	}
	if b.Shown() != bench.Seams {
		s.chart.pressed = nil
	}
	s.chart.swept = nil
	switch b.Shown() {
	case bench.Parts:
		s.put(s.partsTable())
	case bench.Place:
		if s.w.pairing != nil {
			s.pairing()
		} else {
			s.place()
		}
	case bench.Surface:
		if s.w.compared != nil {
			s.comparison()
		} else {
			s.surface()
		}
	case bench.Trust:
		s.trust()
	case bench.Seams:
		s.seams()
	case bench.Evidence:
		s.put(s.evidenceTable())
	}
}

func (s *strip) repaint() {
	s.chart.ask()
}

// put shows objects in the strip, unless they are there already.
func (s *strip) put(o fyne.CanvasObject) {
	// The chart has a ground of its own, all over; both would be painted with every frame.
	if o == fyne.CanvasObject(s.chart) {
		s.ground.Hide()
	} else {
		s.ground.Show()
	}
	if len(s.content.Objects) == 1 && s.content.Objects[0] == o {
		return
	}
	s.content.Objects = []fyne.CanvasObject{o}
	s.content.Refresh()
}

// gather collects the measured deviations for the histogram, on the worker that first asks for them.
func (s *strip) gather() func() (mm, mm2 []float64) {
	o := s.w.bench.Outcome()
	if s.values.get == nil || s.values.of != o.Compared {
		compared, parts := o.Compared, o.Parts
		s.values = deviations{of: compared, get: sync.OnceValues(func() (mm, mm2 []float64) { return measuredIn(compared, parts.ScanAreas) })}
	}
	return s.values.get
}

// measuredIn returns the deviations that were measured, and their areas unless there are none.
func measuredIn(c *app.Compared, areas []float64) (mm, mm2 []float64) {
	if c == nil {
		return nil, nil
	}
	n := len(c.Field.State)
	mm = make([]float64, 0, n)
	if len(areas) > 0 {
		mm2 = make([]float64, 0, n)
	}
	for i, st := range c.Field.State {
		if st != deviation.Measured {
			continue
		}
		mm = append(mm, c.Field.Deviation[i])
		if i < len(areas) { // a cloud has none: every point counts once
			mm2 = append(mm2, areas[i])
		}
	}
	return mm, mm2
}

func (s *strip) surface() {
	o := s.w.bench.Outcome()
	if o.Compared == nil {
		s.put(s.quiet(tr("strip.surface.none", "The distribution of the deviation appears here.")))
		return
	}
	gathered := s.gather()
	scale := s.w.scaleOf()
	lit := s.w.brush
	s.chart.set(func(w, h int, th chart.Theme, k float64) *image.RGBA {
		mm, mm2 := gathered()
		img := chart.Histogram(w, h, th, k, mm, mm2, scale.Tolerance, scale)
		if lit.on {
			brushed(img, chart.HistogramLayout(w, h, k, scale.Tolerance, scale), lit.lo, lit.hi, th, k)
		}
		return img
	})
	s.chart.swept = s.w.sweep
	s.put(s.chart)
}

func (s *strip) seams() {
	r := s.w.bench.Result()
	if r == nil {
		s.put(s.quiet(tr("strip.seams.none", "Gap and flush along the seam appear here.")))
		return
	}
	_, station := s.w.bench.Selection()
	s.chart.set(func(w, h int, th chart.Theme, k float64) *image.RGBA { return chart.Seam(w, h, th, k, r, station) })
	s.chart.pressed = func(x, _ float64, w, h int, scale float64) {
		axis := chart.SeamLayout(w, h, scale, r)
		if i := axis.StationAt(x); i >= 0 {
			seam, _ := s.w.bench.Selection()
			s.w.mark(seam, i)
		}
	}
	s.put(s.chart)
}

func (s *strip) place() {
	o := s.w.bench.Outcome()
	if !s.w.bench.Applies(bench.Place) {
		s.put(s.quiet(""))
		return
	}
	if o.Placed == nil {
		s.put(s.quiet(tr("strip.place.none", "How sure the placement is of its six motions appears here.")))
		return
	}
	left := o.Placed.Placement.Residuals
	motions := container.New(fixedHeight(stripLeast), container.NewCenter(s.motions(o.Placed)))
	beside := padded(20, 0, 20, 0, motions)
	if fit := o.Placed.Placement.Pairs; fit != nil {
		rows := container.New(fixedWidth(pairsWidth), s.pairRows(fit))
		if left.Width == 0 { // of pairs without a reference there are none
			s.put(container.NewBorder(nil, nil, padded(0, 0, 20, 40, motions), nil, rows))
			return
		}
		beside = container.NewHBox(padded(0, 0, 20, 24, motions), rows)
	}
	if left.Width == 0 {
		s.put(motions)
		return
	}
	s.chart.set(func(w, h int, th chart.Theme, k float64) *image.RGBA { return chart.Residuals(w, h, th, k, left) })
	s.put(container.NewBorder(nil, nil, beside, nil, s.chart))
}

// quiet is a line of faint text in the middle of the strip.
func (s *strip) quiet(line string) fyne.CanvasObject {
	room := layout.NewSpacer()
	room.Resize(fyne.NewSize(1, stripLeast))
	t := text(line, sizeText, currentPalette().Faint, false)
	return container.New(fixedHeight(stripLeast), container.NewCenter(t))
}

// fixedHeight gives its one object a height of its own.
type fixedHeight float32

func (f fixedHeight) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(o[0].MinSize().Width, float32(f))
}
func (f fixedHeight) Layout(o []fyne.CanvasObject, size fyne.Size) { o[0].Resize(size) }

// cells turns rows of texts into objects: the first row faint, the first column bold.
func (s *strip) cells(rows [][]string, marks map[[2]int]color.RGBA) []fyne.CanvasObject {
	p := currentPalette()
	var objects []fyne.CanvasObject
	for y, row := range rows {
		for x, cell := range row {
			t := text(cell, sizeText, p.Ink, x == 0 && y > 0)
			if y == 0 {
				t = text(cell, sizeCaption, p.Faint, true)
			}
			if c, ok := marks[[2]int{x, y}]; ok {
				t.Color = c
			}
			if x > 0 {
				t.Alignment = fyne.TextAlignTrailing
			}
			objects = append(objects, t)
		}
	}
	return objects
}

func (s *strip) motions(p *app.Placed) fyne.CanvasObject {
	names := s.w.words.Motions()
	pal := currentPalette()
	rows := [][]string{{tr("motions.head", "MOTION"), tr("motions.u", "U (k = 2)"), tr("motions.held", "HELD")}}
	marks := map[[2]int]color.RGBA{}
	for i, n := range names {
		u, held := figures(words.Sigma(p.Placement.Sigma[i], i >= 3)), tr("motions.yes", "yes")
		switch {
		case p.Placement.Free[i]:
			u, held = "–", tr("motions.no", "no: free")
			marks[[2]int{2, i + 1}] = pal.Bad
		case p.Placement.Sigma[i] == 0:
			u, held = "–", "–"
		}
		rows = append(rows, []string{n, u, held})
	}
	return container.New(columns{n: 3, gapX: 26, gapY: 2}, s.cells(rows, marks)...)
}

func (s *strip) partsTable() fyne.CanvasObject {
	parts := s.w.bench.Outcome().Parts
	rows := [][]string{{"", tr("parts.col.file", "FILE"), tr("parts.col.format", "FORMAT"), tr("parts.col.unit", "UNIT"), tr("parts.col.size", "SIZE"),
		tr("parts.col.triangles", "TRIANGLES"), tr("parts.col.points", "POINTS"), tr("parts.col.edge", "MIDDLE EDGE"), tr("parts.col.pieces", "PIECES"), tr("parts.col.borders", "OPEN BORDERS"), tr("parts.col.out", "LEFT OUT")}}
	row := func(name string, l *meshio.Loaded, e *quality.Examination) {
		unit := string(l.Unit)
		if l.UnitSource == "judged" {
			unit += " " + tr("parts.judged", "(judged)")
		}
		edge, pieces, borders := "…", "…", "…"
		if e != nil {
			h := &e.Health
			edge, pieces, borders = figures(words.MM(h.MedianEdge)), pieceCount(h), words.Count(len(h.BorderLoops))
		}
		rows = append(rows, []string{name, shorten(filepath.Base(l.Path), 26), l.Format, unit, words.Size(parts.Box(l.Mesh).Size()),
			words.Count(len(l.Mesh.Faces)), words.Count(len(l.Mesh.Vertices)), edge, pieces, borders, words.Count(l.DroppedNotFinite + l.DroppedNoArea)})
	}
	row(tr("parts.row.scan", "Scan"), parts.Scan, parts.Examined.Scan)
	if parts.Reference != nil {
		row(tr("parts.row.reference", "Reference"), parts.Reference, parts.Examined.Reference)
	}
	table := container.New(columns{n: len(rows[0]), gapX: 24, gapY: 10}, s.cells(rows, nil)...)
	return container.New(fixedHeight(stripLeast), padded(20, 8, 20, 12, container.NewHScroll(table)))
}

// pieceCount counts pieces as the card does: the specks, which it names among the faults, stand behind.
func pieceCount(h *mesh.Report) string {
	panels := len(h.Panels())
	if specks := h.Components - panels; specks > 0 {
		return trf("parts.pieces.specks", "{{.N}} + {{.Specks}} specks", map[string]any{"N": words.Count(panels), "Specks": words.Count(specks)})
	}
	return words.Count(panels)
}

// evidenceTable lists what was written, each file to be opened by a click, or says what will be.
func (s *strip) evidenceTable() fyne.CanvasObject {
	dir := s.w.bench.Written
	if dir == "" {
		return s.quiet(tr("strip.evidence.none", "The files that were written are listed here."))
	}
	entries, err := os.ReadDir(dir) // sorted by name
	if err != nil {
		return s.quiet(sentenceOf(err))
	}
	p := currentPalette()
	const perColumn = 5 // as many as the lowest strip is high
	boxes := []fyne.CanvasObject{}
	for from := 0; from < len(entries); from += perColumn {
		var column []fyne.CanvasObject
		for _, e := range entries[from:min(from+perColumn, len(entries))] {
			size := ""
			if info, err := e.Info(); err == nil {
				size = figures(words.Bytes(info.Size()))
			}
			link := widget.NewHyperlink(e.Name(), nil)
			link.OnTapped = func() { s.w.openPath(filepath.Join(dir, e.Name())) }
			amount := text(size, sizeCaption, p.Faint, false)
			amount.Alignment = fyne.TextAlignTrailing
			column = append(column, padded(-6, -6, -6, 0, link), container.NewVBox(layout.NewSpacer(), amount, layout.NewSpacer()))
		}
		boxes = append(boxes, container.New(columns{n: 2, gapX: 6, gapY: 0}, column...))
	}
	list := container.New(layout.NewCustomPaddedHBoxLayout(30), boxes...)
	head := text(trf("strip.evidence.in", "WRITTEN TO {{.Dir}}", map[string]any{"Dir": shorten(dir, 110)}), sizeCaption, p.Faint, true)
	folder := newIconButton(tr("strip.evidence.folder", "Open folder"), theme.FolderOpenIcon(), func() { s.w.openPath(dir) })
	folder.Importance = widget.LowImportance
	top := container.NewBorder(nil, nil, nil, folder, container.New(clipped{}, head))
	return container.New(fixedHeight(stripLeast), padded(8, 4, 20, 12, container.NewBorder(top, nil, nil, nil, container.NewScroll(list))))
}
