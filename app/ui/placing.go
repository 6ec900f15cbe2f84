package ui

import (
	"strings"

	"shutline/app/inspection"
)

// placeMethods returns the methods of placing that a job holds what it needs for.
// Datums and matrices come from inspection files: there is no picking of them.
func placeMethods(job *inspection.Inspection) []string {
	var out []string
	if job.Reference != nil {
		out = append(out, inspection.BestFit)
		if len(job.Place.Datums) > 0 {
			out = append(out, inspection.Datums)
		}
	}
	if len(job.Place.Pairs) > 0 {
		out = append(out, inspection.Pairs)
	}
	if job.Place.HasMatrix || job.Place.Method == inspection.Given {
		out = append(out, inspection.Given)
	}
	return append(out, inspection.None)
}

// methodTitle names a method of placing in a choice.
func methodTitle(m string) string {
	switch m {
	case inspection.BestFit:
		return tr("method.fit", "best fit")
	case inspection.Datums:
		return tr("method.datums", "datums, 3-2-1")
	case inspection.Pairs:
		return tr("method.pairs", "pairs of points")
	case inspection.Given:
		return tr("method.given", "matrix given")
	}
	return tr("method.none", "as it lies")
}

// mirrorTitle names a way to mirror the reference in a choice.
func mirrorTitle(m string) string {
	switch m {
	case inspection.None:
		return tr("mirror.none", "not mirrored")
	case inspection.MirrorFind, inspection.MirrorGiven:
		return mirrorName(m)
	}
	return m + " = 0"
}

// mirrorOptions returns the ways in which a job's reference can be mirrored.
func mirrorOptions(job *inspection.Inspection) []string {
	out := []string{inspection.None, "x", "y", "z", inspection.MirrorFind}
	if job.Reference.MirrorPlane.Normal.Norm() > 0 {
		out = append(out, inspection.MirrorGiven)
	}
	return out
}

// placeChoices tells jobs apart whose choices of methods differ.
func placeChoices(job *inspection.Inspection) string {
	return strings.Join(placeMethods(job), " ")
}

// mirrorName names what a reference is mirrored in.
func mirrorName(m string) string {
	switch m {
	case inspection.MirrorFind:
		return tr("header.mirror.find", "its plane of symmetry")
	case inspection.MirrorGiven:
		return tr("header.mirror.plane", "the plane given")
	}
	return m
}

// swap takes scan and reference for each other.
func (w *Window) swap() {
	if !w.settle() {
		return
	}
	w.bench.Edit(tr("edit.swap", "swapping scan and reference"), func(i *inspection.Inspection) {
		s, r := &i.Scan, i.Reference
		s.File, r.File = r.File, s.File
		s.SHA256, r.SHA256 = r.SHA256, s.SHA256
		s.Units, r.Units = r.Units, s.Units
	})
}
