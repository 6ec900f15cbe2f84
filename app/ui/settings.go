package ui

import (
	"errors"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// settings are a stage's settings; each change is one step of undo.
type settings struct {
	tolerance *field // of the surface, where it is shown
	w         *Window
	items     []*widget.FormItem
	fields    []*field
	follow    []func() // bring what was chosen up to date with the job
	below     []fyne.CanvasObject
	measured  func() // follows results
}

func newSettings(w *Window) *settings { return &settings{w: w, measured: func() {}} }

// form returns the settings of a stage, nil for none.
func (s *settings) form(stage bench.Stage) fyne.CanvasObject {
	job := s.w.bench.Job()
	if job == nil {
		return nil
	}
	switch stage {
	case bench.Parts:
		s.parts(job)
	case bench.Place:
		if job.Reference != nil {
			s.place()
		}
	case bench.Surface:
		if job.Reference != nil {
			s.surface()
		}
	case bench.Seams:
		if k, _ := s.w.bench.Selection(); k < len(job.Seams) {
			s.seam(k)
		}
	}
	if len(s.items) == 0 {
		return nil
	}
	return container.NewVBox(append([]fyne.CanvasObject{widget.NewForm(s.items...)}, s.below...)...)
}

// refresh shows what the job says now.
func (s *settings) refresh() {
	s.measured()
	for _, f := range s.fields {
		f.follow()
	}
	for _, f := range s.follow {
		f()
	}
}

// busy reports whether the user is in one of the fields.
func (s *settings) busy() bool {
	return slices.ContainsFunc(s.fields, func(f *field) bool { return f.focused })
}

func (s *settings) job() *inspection.Inspection { return s.w.bench.Job() }

// edit changes the job, unless an inspection file would refuse what it becomes: then it says why.
func (s *settings) edit(name string, change func(*inspection.Inspection)) error {
	if err := s.w.checked(change); err != nil {
		return err
	}
	s.w.card.holding = true
	s.w.bench.Edit(name, change)
	return nil
}

func (s *settings) add(name string, o fyne.CanvasObject) {
	s.items = append(s.items, widget.NewFormItem(name, o))
}

// field adds an entry.
func (s *settings) field(name, empty string, read func() string, take func(string) error) *field {
	f := newField(read, take)
	f.SetPlaceHolder(empty)
	f.OnChanged = func(string) { s.w.header.refresh() }
	f.follower = func(twin fyne.Focusable) { s.w.opt.Post(func() { s.w.win.Canvas().Focus(twin) }) }
	f.reveal = func() {
		s.w.card.reveal(f.content)
		s.w.opt.Post(func() { s.w.card.reveal(f.content) }) // once the sentence has its lines
	}
	s.fields = append(s.fields, f)
	s.add(name, f.content)
	return f
}

func (s *settings) parts(job *inspection.Inspection) {
	s.field(tr("set.title", "Title"), tr("set.none", "none"), func() string { return s.job().Title }, func(t string) error {
		return s.edit(tr("edit.title", "title"), func(i *inspection.Inspection) { i.Title = t })
	})
	s.unit(tr("set.scanunit", "Scan in"), func() meshio.Unit { return s.job().Scan.Units }, func(u meshio.Unit) error {
		return s.edit(tr("edit.scanunit", "unit of the scan"), func(i *inspection.Inspection) { i.Scan.Units = u })
	})
	if job.Reference == nil {
		return
	}
	s.unit(tr("set.refunit", "Reference in"), func() meshio.Unit { return s.job().Reference.Units }, func(u meshio.Unit) error {
		return s.edit(tr("edit.refunit", "unit of the reference"), func(i *inspection.Inspection) { i.Reference.Units = u })
	})
	s.choice(tr("set.mirror", "Mirrored in"), mirrorOptions(job), mirrorTitle, func() string { return orNone(s.job().Reference.Mirror) }, func(m string) error {
		return s.edit(tr("edit.mirror", "mirroring"), func(i *inspection.Inspection) { i.Reference.Mirror = m })
	})
	s.choice(tr("set.axes", "Axes of the reference"), []string{"", inspection.AxesVehicle, inspection.AxesOwn}, axesTitle, func() string { return s.job().Reference.Axes }, func(a string) error {
		return s.edit(tr("edit.axes", "axes of the reference"), func(i *inspection.Inspection) { i.Reference.Axes = a })
	})
}

// axesTitle is what the axes of a reference are called in a choice.
func axesTitle(axes string) string {
	switch axes {
	case inspection.AxesVehicle:
		return tr("axes.vehicle", "the vehicle's")
	case inspection.AxesOwn:
		return tr("axes.own", "its own")
	}
	return tr("axes.judged", "not stated")
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// unit adds the choice of a unit, or of leaving it to the file or to judgement.
func (s *settings) unit(name string, now func() meshio.Unit, set func(meshio.Unit) error) {
	judged := tr("set.judged", "as the file says")
	s.choice(name, []string{judged, "mm", "cm", "m", "in"}, plain, func() string {
		if u := now(); u != meshio.UnitUnknown {
			return string(u)
		}
		return judged
	}, func(u string) error {
		if u == judged {
			u = ""
		}
		return set(meshio.Unit(u))
	})
}

// plain is the title of a choice that is called by its own name.
func plain(s string) string { return s }

// choice adds a choice among words, each under a title of its own.
func (s *settings) choice(name string, options []string, title func(string) string, now func() string, set func(string) error) *chooser {
	titles := make([]string, len(options))
	for k, o := range options {
		titles[k] = title(o)
	}
	c := newChooser(titles)
	show := func() {
		if k := slices.Index(options, now()); k >= 0 {
			c.SetSelectedIndex(k)
		}
	}
	show()
	c.OnChanged = func(string) {
		k := c.SelectedIndex()
		if k < 0 || options[k] == now() {
			return
		}
		if !s.w.settle() {
			show()
			return
		}
		if err := set(options[k]); err != nil {
			s.w.failed(err)
			show()
		}
	}
	s.follow = append(s.follow, show)
	s.add(name, c)
	return c
}

func (s *settings) place() {
	s.choice(tr("set.method", "Method"), placeMethods(s.job()), methodTitle, func() string { return s.job().Place.Method }, func(m string) error {
		return s.edit(tr("edit.method", "placement"), func(i *inspection.Inspection) { i.Place.Method = m })
	})
}

func (s *settings) surface() {
	s.tolerance = s.band(tr("set.tolerance", "Tolerance, mm"), func() (verdict.Tolerance, bool) { return s.job().Surface.Tolerance, true }, func(t verdict.Tolerance, has bool) error {
		if !has {
			return errors.New(tr("field.tolerance", "The colours need a tolerance. Whether the surface is judged says the wanted share below."))
		}
		return s.edit(tr("edit.tolerance", "surface tolerance"), func(i *inspection.Inspection) { i.Surface.Tolerance = t })
	})
	s.tolerance.SetPlaceHolder("")
	s.number(tr("set.reach", "Reach, mm"), "", func() (float64, bool) { return s.job().Surface.Reach, true }, func(v float64, has bool) error {
		if err := positive(v, has); err != nil {
			return err
		}
		return s.edit(tr("edit.reach", "reach"), func(i *inspection.Inspection) { i.Surface.Reach = v })
	})
	s.number(tr("set.share", "Wanted inside, %"), notJudged(), func() (float64, bool) { return percent(s.job().Surface.Share), s.job().Surface.HasShare }, func(v float64, has bool) error {
		if has && !(v > 0 && v <= 100) {
			return errors.New(tr("field.share", "A share is over 0 and at most 100 %; empty: not judged."))
		}
		return s.edit(tr("edit.share", "wanted share"), func(i *inspection.Inspection) { i.Surface.HasShare, i.Surface.Share = has, ofPercent(v) })
	})
}

func notJudged() string { return tr("set.notjudged", "not judged") }

func (s *settings) seam(k int) {
	now := func() gapflush.Seam {
		if seams := s.job().Seams; k < len(seams) {
			return seams[k]
		}
		return gapflush.Seam{}
	}
	change := func(name string, set func(*gapflush.Seam)) error {
		return s.edit(name, func(i *inspection.Inspection) { set(&i.Seams[k]) })
	}
	s.field(tr("set.name", "Name"), "", func() string { return now().Name }, func(name string) error {
		switch {
		case name == "":
			return errors.New(tr("field.name.none", "A seam needs a name. “wing to door” also names its two sides."))
		case slices.ContainsFunc(s.job().Seams, func(x gapflush.Seam) bool { return x.Name == name }):
			return errors.New(tr("field.name.taken", "Another seam has this name."))
		}
		return s.edit(tr("edit.name", "name of the seam"), func(i *inspection.Inspection) { i.RenameSeam(k, name) })
	})
	s.number(tr("set.every", "Station every, mm"), "", func() (float64, bool) { return now().Every, true }, func(v float64, has bool) error {
		if err := positive(v, has); err != nil {
			return err
		}
		if pathLength(now().Path)/v > inspection.MostStations {
			return errors.New(tr("field.every", "That would make more than 10 000 stations."))
		}
		return change(tr("edit.every", "spacing of stations"), func(x *gapflush.Seam) { x.Every = v })
	})
	sides := []string{"A", "B"}
	stays := s.choice(tr("set.master", "Side that stays"), sides, plain, func() string { return sides[now().Master] }, func(v string) error {
		return change(tr("edit.master", "side that stays"), func(x *gapflush.Seam) {
			x.Master = gapflush.A
			if v == sides[1] {
				x.Master = gapflush.B
			}
		})
	})
	s.measured = func() {
		titles := sideTitles(now(), s.w.bench.Results(), k)
		if !slices.Equal(stays.Options, titles[:]) {
			stays.Options, stays.Selected = titles[:], titles[now().Master]
			stays.Refresh()
		}
	}
	s.measured()
	s.radius(now, change)
	s.target(tr("set.gap.nominal", "Gap wanted, mm"), tr("set.gap.band", "Gap off by, mm"), tr("edit.gap", "gap and its tolerance"), now, change, func(x *gapflush.Seam) *gapflush.Target { return &x.Gap })
	s.target(tr("set.flush.nominal", "Flush wanted, mm"), tr("set.flush.band", "Flush off by, mm"), tr("edit.flush", "flush and its tolerance"), now, change, func(x *gapflush.Seam) *gapflush.Target { return &x.Flush })
	s.band(tr("set.taper", "Taper, mm/100 mm"), func() (verdict.Tolerance, bool) { t := now().Taper; return t.Tolerance, t.Judged }, func(t verdict.Tolerance, has bool) error {
		return change(tr("edit.taper", "taper tolerance"), func(x *gapflush.Seam) { x.Taper.Tolerance, x.Taper.Judged = t, has })
	})
	s.across(now, change)
	s.below = append(s.below, newIconButton(tr("set.delete", "Delete this seam"), theme.DeleteIcon(), s.w.deleteSeam))
}

// sideTitles names the two sides of a seam by what tells them apart at the vehicle: "A, wing (toward −x)".
func sideTitles(seam gapflush.Seam, results []*gapflush.Result, k int) (titles [2]string) {
	titles = [2]string{"A", "B"}
	panels, named := seam.Panels()
	var runs []gapflush.SideRun
	if k < len(results) && results[k] != nil {
		runs = results[k].Sides()
	}
	for i := range titles {
		if named {
			titles[i] += ", " + panels[i]
		}
		if len(runs) == 1 { // else the card says where along the seam which way is which
			way := [2]gapflush.Toward{runs[0].A, runs[0].B}[i].String()
			titles[i] = trf("set.side", "{{.Side}} (toward {{.Axis}})", map[string]any{"Side": titles[i], "Axis": strings.ReplaceAll(way, "-", "−")})
		}
	}
	return titles
}

// deleteSeam takes the marked seam out of the job; undo brings it back.
func (w *Window) deleteSeam() {
	k, _ := w.bench.Selection()
	if job := w.bench.Job(); job == nil || k >= len(job.Seams) || w.bench.Shown() != bench.Seams || !w.settle() {
		return
	}
	w.card.holding = true
	w.bench.Edit(tr("edit.delete", "deleting a seam"), func(i *inspection.Inspection) { i.RemoveSeam(k) })
}

// radius adds the radii of the two hems; one number stands for both.
func (s *settings) radius(now func() gapflush.Seam, change func(string, func(*gapflush.Seam)) error) {
	s.field(tr("set.radius", "Hem radii A, B, mm"), s.fromReference(), func() string {
		r := now().Radius
		if r == [2]float64{} {
			return ""
		}
		return number(r[0]) + "; " + number(r[1])
	}, func(text string) error {
		a, b, ok := parseTwo(text)
		if one, isOne := parseNumber(text); isOne {
			a, b, ok = one, one, true
		}
		switch {
		case text == "":
			a, b = 0, 0
		case !ok || !(a > 0) || !(b > 0) || max(a, b) > 300:
			return errors.New(tr("field.radius", "Write the radii of side A and side B, above 0 and at most 300 mm, as in 1.5; 1.2, or one number for both."))
		}
		return change(tr("edit.radius", "radius of the hems"), func(x *gapflush.Seam) { x.Radius = [2]float64{a, b} })
	})
}

// fromReference says where a value comes from that is left empty.
func (s *settings) fromReference() string {
	if s.job().Reference == nil {
		return tr("set.none", "none")
	}
	return tr("set.nominal.none", "from the reference")
}

// target adds the wanted value of a figure and its tolerance.
func (s *settings) target(nominal, band, edit string, now func() gapflush.Seam, change func(string, func(*gapflush.Seam)) error, of func(*gapflush.Seam) *gapflush.Target) {
	read := func() gapflush.Target { x := now(); return *of(&x) }
	s.number(nominal, s.fromReference(), func() (float64, bool) { t := read(); return t.Nominal, t.HasNominal }, func(v float64, has bool) error {
		return change(edit, func(x *gapflush.Seam) { t := of(x); t.Nominal, t.HasNominal = v, has })
	})
	s.band(band, func() (verdict.Tolerance, bool) { t := read(); return t.Tolerance, t.Judged }, func(b verdict.Tolerance, has bool) error {
		return change(edit, func(x *gapflush.Seam) { t := of(x); t.Tolerance, t.Judged = b, has })
	})
}

// band adds an entry of a tolerance; empty: not judged.
func (s *settings) band(name string, now func() (verdict.Tolerance, bool), set func(t verdict.Tolerance, has bool) error) *field {
	return s.field(name, notJudged(), func() string {
		t, has := now()
		if !has {
			return ""
		}
		return bandText(t)
	}, func(text string) error {
		if text == "" {
			return set(verdict.Tolerance{}, false)
		}
		b, err := parseBand(text)
		if err != nil {
			return err
		}
		return set(b, true)
	})
}

// number adds an entry of a number; empty says what an empty one means.
func (s *settings) number(name, empty string, now func() (float64, bool), set func(v float64, has bool) error) {
	s.field(name, empty, func() string {
		v, has := now()
		if !has {
			return ""
		}
		return number(v)
	}, func(text string) error {
		if text == "" {
			return set(0, false)
		}
		v, ok := parseNumber(text)
		if !ok {
			return errors.New(tr("field.number", "This is no number. Write digits with a point or a comma, as in 4.5."))
		}
		return set(v, true)
	})
}

// pathLength returns the length of a path.
func pathLength(path []geom.Vec) float64 {
	long := 0.0
	for k := 1; k < len(path); k++ {
		long += path[k].Dist(path[k-1])
	}
	return long
}

// positive refuses what is no length.
func positive(v float64, has bool) error {
	if !has || !(v > 0) {
		return errors.New(tr("field.positive", "A length above 0 is needed here."))
	}
	return nil
}
