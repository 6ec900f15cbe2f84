package ui

import (
	"errors"
	"path/filepath"

	"shutline/app/inspection"
)

// addReference asks for a reference where the job has none, and makes it the job's.
func (w *Window) addReference() {
	job := w.bench.Job()
	switch {
	case job == nil || !w.settle():
		return
	case job.Reference != nil:
		w.failed(errors.New(tr("reference.there", "This job has a reference already.")))
		return
	}
	dir, _ := filepath.Abs(filepath.Dir(firstFile(job)))
	w.chooseTitled(tr("choose.reference", "The reference: what the part should be"), dir, meshEndings, w.takeReference)
}

// takeReference makes a mesh the reference of the job, and says where what the job has is taken in other axes from then on.
func (w *Window) takeReference(path string) {
	job := w.bench.Job()
	if job == nil || job.Reference != nil {
		return
	}
	drawn := len(job.Seams)+len(job.Sections)+len(job.Lengths)+len(job.Points) > 0
	w.bench.Edit(tr("edit.reference", "adding a reference"), func(i *inspection.Inspection) {
		i.Reference = &inspection.Reference{File: path, Mirror: inspection.None}
		if i.Place.Method == inspection.None {
			i.Place.Method = inspection.BestFit
		}
	})
	if drawn {
		w.tell(tr("reference.axes.title", "The axes are others now"), tr("reference.axes", "What was drawn in this job lies in the scan’s own axes; from now on it is taken in those of the reference. Where the two differ, draw or find the seams again."))
	}
}
