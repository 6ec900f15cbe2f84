package ui

import (
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/mesh/meshio"
)

// askUnit asks for a unit that cannot be told from a file, and reads the job again with it.
func (w *Window) askUnit(unit *meshio.UnitError, load *bench.LoadError) {
	var d *dialog.CustomDialog
	list := container.NewVBox(wrapped(trf("unit.text", "{{.File}} does not say its unit, and its size does not decide it. Which one is right?", map[string]any{"File": filepath.Base(unit.Path)})))
	choose := func(u meshio.Unit) func() {
		return func() {
			d.Hide()
			w.bench.OpenJob(withUnit(load.Job, unit.Path, u))
		}
	}
	for _, r := range readings(unit) {
		title := string(r.Unit)
		if r.Size.Norm() > 0 {
			title = trf("unit.reading", "{{.Unit}}: the part would measure {{.Size}}", map[string]any{"Unit": r.Unit, "Size": words.Size(r.Size)})
		}
		b := widget.NewButton(title, choose(r.Unit))
		b.Alignment = widget.ButtonAlignLeading
		list.Add(b)
	}
	d = dialog.NewCustom(tr("unit.title", "In which unit is this file?"), tr("unit.cancel", "Cancel"), list, w.win)
	d.Resize(fyne.NewSize(540, 300))
	d.Show()
}

// readings are the plausible units, or all of them when none is.
func readings(e *meshio.UnitError) []meshio.Reading {
	if len(e.Readings) > 0 {
		return e.Readings
	}
	return []meshio.Reading{{Unit: meshio.Millimetre}, {Unit: meshio.Centimetre}, {Unit: meshio.Metre}, {Unit: meshio.Inch}}
}

// withUnit returns the job with the unit of one of its files stated.
func withUnit(job *inspection.Inspection, path string, u meshio.Unit) *inspection.Inspection {
	return bench.Changed(job, func(i *inspection.Inspection) {
		if i.Reference != nil && filepath.Clean(i.Reference.File) == filepath.Clean(path) {
			i.Reference.Units = u
		} else {
			i.Scan.Units = u
		}
	})
}
