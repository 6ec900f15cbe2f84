package ui

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/meshio"
)

// settings are a stage's settings; each change is one step of undo.
type settings struct{ w *Window }

func newSettings(w *Window) *settings { return &settings{w} }

// form returns the settings of a stage, nil for none.
func (s *settings) form(stage bench.Stage) fyne.CanvasObject {
	job := s.w.bench.Job()
	if job == nil {
		return nil
	}
	f := widget.NewForm()
	switch stage {
	case bench.Parts:
		s.parts(f, job)
	case bench.Place:
		s.place(f, job)
	case bench.Surface:
		s.surface(f, job)
	case bench.Seams:
		if k, _ := s.w.bench.Selection(); k < len(job.Seams) {
			s.seam(f, k, job.Seams[k])
		}
	}
	if len(f.Items) == 0 {
		return nil
	}
	return f
}

func (s *settings) edit(name string, change func(*inspection.Inspection)) {
	s.w.bench.Edit(name, change)
}

func (s *settings) parts(f *widget.Form, job *inspection.Inspection) {
	title := widget.NewEntry()
	title.SetText(job.Title)
	title.OnSubmitted = func(t string) {
		s.edit(tr("edit.title", "title"), func(i *inspection.Inspection) { i.Title = t })
	}
	f.Append(tr("set.title", "Title"), title)
	f.Append(tr("set.scanunit", "Scan in"), s.unit(job.Scan.Units, func(u meshio.Unit) {
		s.edit(tr("edit.scanunit", "unit of the scan"), func(i *inspection.Inspection) { i.Scan.Units = u })
	}))
	if job.Reference == nil {
		return
	}
	f.Append(tr("set.refunit", "Reference in"), s.unit(job.Reference.Units, func(u meshio.Unit) {
		s.edit(tr("edit.refunit", "unit of the reference"), func(i *inspection.Inspection) { i.Reference.Units = u })
	}))
	f.Append(tr("set.mirror", "Mirrored in"), s.choice([]string{"none", "x", "y", "z"}, orNone(job.Reference.Mirror), func(m string) {
		s.edit(tr("edit.mirror", "mirroring"), func(i *inspection.Inspection) { i.Reference.Mirror = m })
	}))
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// unitJudged is the choice that leaves the unit to the file, or to judgement.
func (s *settings) unit(now meshio.Unit, set func(meshio.Unit)) fyne.CanvasObject {
	judged := tr("set.judged", "as the file says")
	current := string(now)
	if now == meshio.UnitUnknown {
		current = judged
	}
	return s.choice([]string{judged, "mm", "cm", "m", "in"}, current, func(u string) {
		if u == judged {
			u = ""
		}
		set(meshio.Unit(u))
	})
}

func (s *settings) choice(options []string, now string, set func(string)) fyne.CanvasObject {
	c := widget.NewSelect(options, nil)
	c.SetSelected(now)
	c.OnChanged = func(v string) {
		if v != now {
			now = v
			set(v)
		}
	}
	return c
}

func (s *settings) place(f *widget.Form, job *inspection.Inspection) {
	methods := []string{"best-fit", "none"}
	if job.Place.Method == "given" {
		methods = append(methods, "given")
	}
	f.Append(tr("set.method", "Method"), s.choice(methods, job.Place.Method, func(m string) {
		s.edit(tr("edit.method", "placement"), func(i *inspection.Inspection) { i.Place.Method = m })
	}))
}

func (s *settings) surface(f *widget.Form, job *inspection.Inspection) {
	t := job.Surface.Tolerance
	s.band(f, tr("set.tolerance", "Tolerance, mm"), t, func(t verdict.Tolerance) {
		s.edit(tr("edit.tolerance", "surface tolerance"), func(i *inspection.Inspection) { i.Surface.Tolerance = t })
	})
	f.Append(tr("set.reach", "Reach, mm"), s.number(number(job.Surface.Reach), positive, func(v float64, _ bool) {
		s.edit(tr("edit.reach", "reach"), func(i *inspection.Inspection) { i.Surface.Reach = v })
	}))
	share := ""
	if job.Surface.HasShare {
		share = number(100 * job.Surface.Share)
	}
	f.Append(tr("set.share", "Wanted inside, %"), s.number(share, percent, func(v float64, has bool) {
		s.edit(tr("edit.share", "wanted share"), func(i *inspection.Inspection) {
			i.Surface.HasShare, i.Surface.Share = has, v/100
		})
	}))
}

func (s *settings) seam(f *widget.Form, k int, seam gapflush.Seam) {
	change := func(name string, set func(*gapflush.Seam)) {
		s.edit(name, func(i *inspection.Inspection) { set(&i.Seams[k]) })
	}
	f.Append(tr("set.every", "Station every, mm"), s.number(number(seam.Every), positive, func(v float64, _ bool) {
		change(tr("edit.every", "spacing of stations"), func(x *gapflush.Seam) { x.Every = v })
	}))
	panels := s.w.words.Panels(seam)
	f.Append(tr("set.master", "Side that stays"), s.choice(panels[:], panels[seam.Master], func(v string) {
		change(tr("edit.master", "side that stays"), func(x *gapflush.Seam) {
			x.Master = gapflush.A
			if v == panels[1] {
				x.Master = gapflush.B
			}
		})
	}))
	s.target(f, tr("set.gap", "Gap"), seam.Gap, func(t gapflush.Target) {
		change(tr("edit.gap", "gap and its tolerance"), func(x *gapflush.Seam) { x.Gap = t })
	})
	s.target(f, tr("set.flush", "Flush"), seam.Flush, func(t gapflush.Target) {
		change(tr("edit.flush", "flush and its tolerance"), func(x *gapflush.Seam) { x.Flush = t })
	})
	s.band(f, tr("set.taper", "Taper, mm/100 mm"), seam.Taper.Tolerance, func(t verdict.Tolerance) {
		change(tr("edit.taper", "taper tolerance"), func(x *gapflush.Seam) { x.Taper.Tolerance, x.Taper.Judged = t, true })
	})
}

func (s *settings) target(f *widget.Form, name string, t gapflush.Target, set func(gapflush.Target)) {
	nominal := ""
	if t.HasNominal {
		nominal = number(t.Nominal)
	}
	f.Append(name+tr("set.nominal", " wanted, mm"), s.number(nominal, anyNumber, func(v float64, has bool) {
		t.Nominal, t.HasNominal = v, has
		set(t)
	}))
	s.band(f, name+tr("set.band", " off by, mm"), t.Tolerance, func(b verdict.Tolerance) {
		t.Tolerance, t.Judged = b, true
		set(t)
	})
}

// band is an entry of two numbers, "-0.5 to 0.5".
func (s *settings) band(f *widget.Form, name string, t verdict.Tolerance, set func(verdict.Tolerance)) {
	e := newCommit(number(t.Lo) + " … " + number(t.Hi))
	e.commit = func(v string) error {
		b, err := parseBand(v)
		if err == nil && b != t {
			t = b
			set(b)
		}
		return err
	}
	f.Append(name, e)
}

// parseBand reads two limits; a single number stands for both directions.
func parseBand(s string) (verdict.Tolerance, error) {
	s = strings.NewReplacer("…", " ", "−", "-", "±", "", ",", ".", ";", " ", "[", " ", "]", " ", " to ", " ").Replace(s)
	fields := strings.Fields(s)
	var v []float64
	for _, x := range fields {
		n, err := strconv.ParseFloat(x, 64)
		if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
			return verdict.Tolerance{}, fmt.Errorf("%q is not a number", x)
		}
		v = append(v, n)
	}
	switch {
	case len(v) == 1 && v[0] > 0:
		return verdict.Tolerance{Lo: -v[0], Hi: v[0]}, nil
	case len(v) == 2 && v[0] <= v[1]:
		return verdict.Tolerance{Lo: v[0], Hi: v[1]}, nil
	}
	return verdict.Tolerance{}, fmt.Errorf("write the two limits, the lower one first")
}

func (s *settings) number(now string, check func(float64) error, set func(v float64, has bool)) fyne.CanvasObject {
	e := newCommit(now)
	e.commit = func(v string) error {
		v = strings.NewReplacer(",", ".", "−", "-").Replace(strings.TrimSpace(v))
		if v == now {
			return nil
		}
		if v == "" {
			if err := check(math.NaN()); err != nil {
				return err
			}
			now = v
			set(0, false)
			return nil
		}
		n, err := strconv.ParseFloat(v, 64)
		if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
			return fmt.Errorf("%q is not a number", v)
		}
		if err := check(n); err != nil {
			return err
		}
		now = v
		set(n, true)
		return nil
	}
	return e
}

// Checks of numbers; NaN stands for an empty field.
func positive(v float64) error {
	if !(v > 0) {
		return fmt.Errorf("a length above 0 is needed")
	}
	return nil
}

func percent(v float64) error {
	if v < 0 || v > 100 {
		return fmt.Errorf("a share is between 0 and 100 %%")
	}
	return nil
}

func anyNumber(float64) error { return nil }

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// commitEntry hands its text over on return and when it loses the focus; text
// that cannot be taken stays, with the reason under it.
type commitEntry struct {
	widget.Entry
	commit func(string) error
}

func newCommit(now string) *commitEntry {
	e := &commitEntry{}
	e.ExtendBaseWidget(e)
	e.SetText(now)
	e.OnSubmitted = func(string) { e.hand() }
	return e
}

func (e *commitEntry) hand() {
	if e.commit != nil {
		e.SetValidationError(e.commit(e.Text))
	}
}

// FocusLost hands the text over.
func (e *commitEntry) FocusLost() {
	e.Entry.FocusLost()
	e.hand()
}
