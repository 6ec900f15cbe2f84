package ui

import (
	"path/filepath"

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
	for i, r := range unit.All() {
		data := map[string]any{"Unit": r.Unit, "Size": words.Size(r.Size)}
		title := trf("unit.reading", "{{.Unit}}: the part would measure {{.Size}}", data)
		if unit.Plausible && i >= len(unit.Readings) {
			title = trf("unit.unlikely", "{{.Unit}}: the part would measure {{.Size}}, unlikely for bodywork", data)
		}
		b := newButton(title, choose(r.Unit))
		b.Alignment = widget.ButtonAlignLeading
		list.Add(b)
	}
	d = dialog.NewCustomWithoutButtons(tr("unit.title", "In which unit is this file?"), list, w.win)
	pose(d, 540, 300, newButton(tr("unit.cancel", "Cancel"), d.Hide))
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
