package ui

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
)

// Dropped takes files dropped on the window. What is dropped while it is asked which mesh is which belongs to what is there already.
// While something else is asked, that is answered first, see [Window.hold].
func (w *Window) Dropped(_ fyne.Position, uris []fyne.URI) {
	if len(uris) == 0 {
		return
	}
	if w.unhold(); !w.givesWay() {
		w.hold(uris)
		return
	}
	if w.bench.Job() != nil && !w.settle() {
		return
	}
	paths := make([]string, len(uris))
	for i, u := range uris {
		paths[i] = u.Path()
	}
	if inside := within(paths); len(paths) == 1 && inside != nil {
		paths = inside
	}
	var jobs, meshes, other []string
	for _, path := range paths {
		switch {
		case isJob(path):
			jobs = append(jobs, path)
		case isMesh(path):
			meshes = append(meshes, path)
		default:
			other = append(other, filepath.Base(path))
		}
	}
	known := w.pairKnown()
	w.giveWay()
	switch {
	case len(jobs) > 1:
		w.failed(errors.New(tr("drop.jobs", "One job is opened at a time: drop one inspection file.")))
	case len(jobs) == 1:
		w.openJob(jobs[0])
	case len(meshes) == 0:
		w.failed(errors.New(trf("drop.none", "{{.Names}} cannot be opened: drop an inspection file (.toml), one or two meshes ({{.Endings}}), or the folder of one job.",
			map[string]any{"Names": shorten(strings.Join(other, ", "), 60), "Endings": strings.Join(meshEndings, " ")})))
	default:
		scan, reference, guessed := paired(meshes, known)
		w.pairForm(scan, reference, append(meshNames(meshes[min(2, len(meshes)):]), other...)...)
		w.pairGuessed = guessed
	}
}

// within returns what of a folder that was dropped is opened: its inspection file, else its one or two meshes; nil where that cannot be told.
func within(paths []string) []string {
	entries, err := os.ReadDir(paths[0])
	if err != nil {
		return nil
	}
	var jobs []string
	for _, e := range entries {
		if !e.IsDir() && isJob(e.Name()) && !strings.HasSuffix(e.Name(), ".unsaved.toml") {
			jobs = append(jobs, filepath.Join(paths[0], e.Name()))
		}
	}
	meshes := meshesIn(paths[0])
	switch {
	case len(jobs) == 1:
		return jobs
	case len(jobs) == 0 && (len(meshes) == 1 || len(meshes) == 2):
		return meshes
	}
	return nil
}

// paired guesses which of the dropped meshes is the scan and which the reference. One alone belongs to one of those that are known, the
// one of the other kind where names tell; else to its fellow, which is guessed.
func paired(meshes, known []string) (scan, reference, guessed string) {
	if len(meshes) == 1 {
		mesh, partner := meshes[0], ""
		for _, k := range known {
			if k != mesh && (partner == "" || namesReference(k) != namesReference(mesh)) {
				partner = k
			}
		}
		if partner == "" {
			guessed = fellow(mesh)
			partner = guessed
		}
		if partner != "" {
			meshes = []string{partner, mesh}
			if guessed != "" {
				meshes = []string{mesh, partner}
			}
		} else if namesReference(mesh) {
			return "", mesh, ""
		}
	}
	scan, reference = roles(meshes)
	return scan, reference, guessed
}

// givesWay reports whether nothing is asked, or only what a drop may answer.
func (w *Window) givesWay() bool {
	top := w.win.Canvas().Overlays().Top()
	return top == nil || top == w.yields
}

// giveWay takes away what gives way.
func (w *Window) giveWay() {
	if w.win.Canvas().Overlays().Top() != nil {
		w.yield()
	}
	w.pairNow = nil
}

// mayGiveWay says that what is asked now gives way to what is dropped.
func (w *Window) mayGiveWay(hide func()) {
	w.yields, w.yield = w.win.Canvas().Overlays().Top(), hide
}

// pairKnown returns the meshes that stand in the question for a scan and a reference while it is open, but the one that was guessed.
func (w *Window) pairKnown() (known []string) {
	if w.pairNow == nil || w.win.Canvas().Overlays().Top() == nil {
		return nil
	}
	for _, path := range w.pairNow() {
		if path = strings.TrimSpace(path); path != "" && path != w.pairGuessed {
			known = append(known, path)
		}
	}
	return known
}

func meshNames(paths []string) (names []string) {
	for _, p := range paths {
		names = append(names, filepath.Base(p))
	}
	return names
}

// referenceWords mark a file name as that of a reference.
var referenceWords = []string{"ref", "nominal", "cad", "soll", "master"}

// roles guesses which of the dropped meshes is the scan; the user is asked to confirm.
func roles(meshes []string) (scan, reference string) {
	scan = meshes[0]
	if len(meshes) > 1 {
		reference = meshes[1]
		if namesReference(scan) {
			scan, reference = reference, scan
		}
	}
	return scan, reference
}

func namesReference(path string) bool {
	name := strings.ToLower(filepath.Base(path))
	return slices.ContainsFunc(referenceWords, func(word string) bool { return strings.Contains(name, word) })
}

// fellow guesses the mesh that belongs to a chosen one: the only other in its folder, or the only one there that is named as
// a reference where the chosen one is not, or the other way round. "" where it cannot be told.
func fellow(path string) string {
	others := slices.DeleteFunc(meshesIn(filepath.Dir(path)), func(p string) bool { return filepath.Base(p) == filepath.Base(path) })
	if len(others) > 1 {
		others = slices.DeleteFunc(others, func(p string) bool { return namesReference(p) == namesReference(path) })
	}
	if len(others) != 1 {
		return ""
	}
	return others[0]
}

// meshesIn lists the meshes in a folder; none where it cannot be read.
func meshesIn(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	var list []string
	for _, e := range entries {
		if !e.IsDir() && isMesh(e.Name()) {
			list = append(list, filepath.Join(dir, e.Name()))
		}
	}
	return list
}
