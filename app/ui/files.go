package ui

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/storage"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

// Preferences of the program.
const (
	prefRecent  = "recent"
	prefLook    = "look"
	prefFolder  = "folder"
	prefNoCalls = "nocallouts"
)

// recentMost is how many jobs are remembered: what fits a menu at a glance.
const recentMost = 8

var meshEndings = []string{".stl", ".ply", ".obj", ".glb"}

// Open opens what was named on the command line: an inspection file, or a scan and its reference.
func (w *Window) Open(args []string) error {
	switch {
	case len(args) == 0:
		return nil
	case len(args) == 1 && isJob(args[0]):
		w.openJob(args[0])
	case len(args) == 1:
		w.openPair(args[0], "")
	case len(args) == 2:
		w.openPair(args[0], args[1])
	default:
		return errors.New("give one inspection file, or a scan and its reference")
	}
	return nil
}

func isJob(path string) bool { return strings.EqualFold(filepath.Ext(path), ".toml") }

func isMesh(path string) bool {
	return slices.Contains(meshEndings, strings.ToLower(filepath.Ext(path)))
}

func (w *Window) openPair(scan, reference string) {
	w.tried, w.otherFile = func() { w.pairForm(scan, reference) }, nil
	w.bench.OpenPair(scan, reference)
}

// openJob opens an inspection file.
func (w *Window) openJob(path string) {
	w.tried, w.otherFile = func() { w.openJob(path) }, w.askJob
	w.bench.Open(path)
}

// Dropped takes files dropped on the window. What is dropped while it is asked which mesh is which belongs to what is there already.
// While something else is asked, that is answered first.
func (w *Window) Dropped(_ fyne.Position, uris []fyne.URI) {
	if len(uris) == 0 || !w.givesWay() || w.bench.Job() != nil && !w.settle() {
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

// askPair asks for a scan and a reference.
func (w *Window) askPair() { w.pairForm("", "") }

// pairForm asks for a scan and a reference, with what is known filled in; ignored are files that were
// dropped besides.
func (w *Window) pairForm(scan, reference string, ignored ...string) {
	var scanEntry, refEntry *pathEntry
	chosen := func(e *pathEntry, path string) {
		e.SetText(path)
		w.focusOn(e)
		if scanEntry.Text != "" && refEntry.Text != "" {
			return
		}
		if other := fellow(path); other != "" {
			scan, reference := roles([]string{path, other})
			if !namesReference(path) && !namesReference(other) && e == refEntry {
				scan, reference = other, path
			}
			scanEntry.SetText(scan)
			refEntry.SetText(reference)
		}
	}
	row := func(path string, needed bool) (*pathEntry, fyne.CanvasObject) {
		e := newPathEntry(path)
		e.SetPlaceHolder(tr("pair.none", "none"))
		if needed {
			e.SetPlaceHolder(tr("pair.needed", "STL, PLY, OBJ or GLB"))
		}
		browse := widget.NewButtonWithIcon(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() {
			w.chooseFile(meshEndings, func(path string) { chosen(e, path) })
		})
		return e, container.NewBorder(nil, nil, nil, browse, e)
	}
	var scanRow, refRow fyne.CanvasObject
	scanEntry, scanRow = row(scan, true)
	refEntry, refRow = row(reference, false)
	swap := widget.NewButton(tr("pair.swap", "Swap"), func() {
		a, b := scanEntry.Text, refEntry.Text
		scanEntry.SetText(b)
		refEntry.SetText(a)
	})
	items := []*widget.FormItem{widget.NewFormItem(tr("pair.scan", "Scan"), scanRow), widget.NewFormItem(tr("pair.reference", "Reference"), refRow), widget.NewFormItem("", container.NewHBox(swap))}
	if len(ignored) > 0 {
		items = append(items, widget.NewFormItem("", widget.NewLabel(trf("pair.ignored", "Left out: {{.Names}}. A scan and a reference are opened at a time.", map[string]any{"Names": shorten(strings.Join(ignored, ", "), 60)}))))
	}
	d := dialog.NewForm(tr("pair.title", "Open scan and reference"), tr("pair.open", "Open"), tr("pair.cancel", "Cancel"), items, func(ok bool) {
		if ok && strings.TrimSpace(scanEntry.Text) != "" {
			w.openPair(strings.TrimSpace(scanEntry.Text), strings.TrimSpace(refEntry.Text))
		}
	}, w.win)
	scanEntry.escape, refEntry.escape = d.Hide, d.Hide
	for _, e := range []*pathEntry{scanEntry, refEntry} {
		e.OnSubmitted = func(string) {
			if strings.TrimSpace(scanEntry.Text) == "" {
				w.focusOn(scanEntry) // a reference alone is not measured
				return
			}
			d.Submit()
		}
	}
	d.Resize(fyne.NewSize(720, 240))
	d.Show()
	w.mayGiveWay(d.Hide)
	w.pairNow, w.pairGuessed = func() []string { return []string{scanEntry.Text, refEntry.Text} }, ""
	w.focusOn(scanEntry) // where a reference came alone the scan is what lacks
}

// chooseFile lets the user choose a file with one of the endings.
func (w *Window) chooseFile(endings []string, use func(path string)) {
	w.chooseFileIn("", endings, use)
}

// chooseFileIn lets the user choose a file, beginning in a folder; "": where files were last taken from.
func (w *Window) chooseFileIn(dir string, endings []string, use func(path string)) {
	overlays := w.win.Canvas().Overlays()
	if w.chooser != nil && slices.Contains(overlays.List(), w.chooser) {
		return // a shortcut asked once more
	}
	d := dialog.NewFileOpen(func(r fyne.URIReadCloser, err error) {
		if err != nil {
			w.failed(err)
			return
		}
		if r == nil {
			return
		}
		path := r.URI().Path()
		_ = r.Close()
		w.app.Preferences().SetString(prefFolder, filepath.Dir(path))
		use(path)
	}, w.win)
	d.SetTitleText(tr("choose.file", "Open a file"))
	d.SetFilter(storage.NewExtensionFileFilter(endings))
	if at := w.folder(dir, endings); at != nil {
		d.SetLocation(at)
	}
	d.Resize(fyne.NewSize(900, 600))
	d.Show()
	w.chooser = overlays.Top()
}

// folder returns the folder that is given, else the one files were last taken from, or that the program was started in where it holds such files; else nil.
func (w *Window) folder(dir string, endings []string) fyne.ListableURI {
	if dir != "" {
		if at, err := storage.ListerForURI(storage.NewFileURI(dir)); err == nil {
			return at
		}
	}
	dir = w.app.Preferences().String(prefFolder)
	if dir == "" {
		here, err := os.Getwd()
		if err != nil || !holds(here, endings) {
			return nil
		}
		dir = here
	}
	at, err := storage.ListerForURI(storage.NewFileURI(dir))
	if err != nil {
		return nil
	}
	return at
}

// holds reports whether a folder holds a file with one of the endings.
func holds(dir string, endings []string) bool {
	entries, err := os.ReadDir(dir)
	return err == nil && slices.ContainsFunc(entries, func(e os.DirEntry) bool {
		return !e.IsDir() && slices.Contains(endings, strings.ToLower(filepath.Ext(e.Name())))
	})
}

// openDemo writes the demo job where the user's data lives, and opens it.
func (w *Window) openDemo() {
	w.bench.OpenMade(func(ctx context.Context, report func(string, float64)) (string, error) {
		return w.opt.Demo(ctx, w.opt.DemoDir, report)
	})
}

// recent returns the inspection files opened lately that still exist, newest first.
func (w *Window) recent() []string { return existing(w.app.Preferences().StringList(prefRecent)) }

// existing returns the files of a list that are there.
func existing(list []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(path string) bool { // the preferences hand out their own list
		_, err := os.Stat(path)
		return err != nil
	})
}

// remember puts the job on top of the recent ones, when it has another file than before. The disk is asked off the drawing thread.
func (w *Window) remember() {
	job := w.bench.Job()
	if job == nil || job.Path == "" || job.Path == w.remembered {
		return
	}
	w.remembered = job.Path
	path, err := filepath.Abs(job.Path)
	if err != nil {
		return
	}
	before := slices.Clone(w.app.Preferences().StringList(prefRecent))
	w.worker.aside(func() {
		there := existing(before)
		w.opt.Post(func() {
			now := w.app.Preferences().StringList(prefRecent)
			list := append([]string{path}, slices.DeleteFunc(slices.Clone(now), func(p string) bool {
				return p == path || slices.Contains(before, p) && !slices.Contains(there, p)
			})...)
			if len(list) > recentMost {
				list = list[:recentMost]
			}
			if !slices.Equal(list, now) {
				w.app.Preferences().SetStringList(prefRecent, list)
				w.win.SetMainMenu(w.menu())
			}
		})
	})
}

// failed tells the user about an error; a unit that cannot be told is asked for.
func (w *Window) failed(err error) {
	w.trace.put(Trace{Event: "error", Text: err.Error()})
	var unit *meshio.UnitError
	var load *bench.LoadError
	if errors.As(err, &unit) && errors.As(err, &load) {
		w.askUnit(unit, load)
		return
	}
	title, find := w.lost(err)
	d := dialog.NewCustomWithoutButtons(title, wrapped(withShortNames(sentenceOf(err))), w.win)
	buttons := []fyne.CanvasObject{widget.NewButton(tr("error.close", "Close"), d.Hide)}
	if w.tried != nil && isOpening(err) {
		buttons = append(buttons, widget.NewButton(tr("card.again", "Try again"), func() { d.Hide(); w.tried() }))
		if w.otherFile != nil && find == nil {
			buttons = append(buttons, widget.NewButton(tr("error.other", "Other file"), func() { d.Hide(); w.otherFile() }))
		}
	}
	if find != nil {
		browse := widget.NewButtonWithIcon(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() { d.Hide(); find() })
		browse.Importance = widget.HighImportance
		buttons = append(buttons, browse)
	}
	d.SetButtons(buttons)
	d.Resize(fyne.NewSize(560, 200))
	d.Show()
	w.mayGiveWay(d.Hide)
	w.pairNow = nil
}

// isOpening reports whether an error says that a file cannot be opened or used,
// so that trying again makes sense once it was mended.
func isOpening(err error) bool {
	var load *bench.LoadError
	var bad *inspection.Error
	var open *inspection.OpenError
	return errors.As(err, &load) || errors.As(err, &bad) || errors.As(err, &open)
}

// sentenceOf returns an error as the headless command words it, in the user's language.
func sentenceOf(err error) string { return told(app.Sentence(err)) }

// longestName is how much of a name a question shows: two of them with what is said about them fit the smallest window.
const longestName = 160

// withShortNames shortens names in the middle that would fill a question and push its buttons off the screen.
func withShortNames(s string) string {
	words := strings.Split(s, " ")
	for k, word := range words {
		words[k] = shorten(word, longestName)
	}
	return strings.Join(words, " ")
}

func wrapped(s string) *widget.Label {
	l := widget.NewLabel(s)
	l.Wrapping = fyne.TextWrapWord
	return l
}

// safely asks about unsaved changes before something that would lose them.
func (w *Window) safely(then func()) {
	if w.bench.Job() != nil && !w.settle() {
		return
	}
	if w.bench.Job() == nil || !w.bench.Dirty() {
		then()
		return
	}
	var d *dialog.CustomDialog
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	save := widget.NewButton(tr("unsaved.save", "Save"), leave(func() { w.save(then) }))
	save.Importance = widget.HighImportance
	d = dialog.NewCustomWithoutButtons(tr("unsaved.title", "The job has changes that are not saved"), wrapped(tr("unsaved.text", "Save them first, or go on without them?")), w.win)
	d.SetButtons([]fyne.CanvasObject{
		widget.NewButton(tr("unsaved.stay", "Stay"), leave(func() {})),
		widget.NewButton(tr("unsaved.drop", "Do not save"), leave(then)),
		save,
	})
	d.Resize(fyne.NewSize(460, 180))
	d.Show()
}

// askClose closes the window, after asking about unsaved changes.
func (w *Window) askClose() {
	w.safely(func() {
		w.bench.Close()
		w.win.Close()
		if w.opt.Closed != nil {
			w.opt.Closed()
		}
	})
}

// save writes the job to its file, or asks for one; then goes on with then, which may be nil.
func (w *Window) save(then func()) {
	if !w.settle() {
		return
	}
	if job := w.bench.Job(); job != nil && job.Path != "" {
		w.saveTo(job.Path, then)
		return
	}
	w.saveAs(then)
}

func (w *Window) saveTo(path string, then func()) { w.saveOver(path, false, then) }

// saveOver writes the job to a file off the drawing thread; over: also to one that somebody else has changed.
func (w *Window) saveOver(path string, over bool, then func()) {
	w.bench.SaveThen(path, over, func(err error) {
		var changed *bench.ChangedError
		switch {
		case errors.As(err, &changed):
			w.askChanged(path, err, then)
		case err != nil:
			w.failed(err)
		default:
			w.trace.put(Trace{Event: "saved", Text: path})
			if then != nil {
				then()
			}
		}
	})
}

// askChanged asks what to do about a file that somebody else has changed: to save over it, or elsewhere.
func (w *Window) askChanged(path string, err error, then func()) {
	var d *dialog.CustomDialog
	leave := func(act func()) func() { return func() { d.Hide(); act() } }
	elsewhere := widget.NewButton(tr("save.elsewhere", "Save elsewhere …"), leave(func() {
		w.worker.aside(func() {
			free := freeName(path)
			w.opt.Post(func() { w.askSave(free, then) })
		})
	}))
	elsewhere.Importance = widget.HighImportance
	d = dialog.NewCustomWithoutButtons(tr("save.changed", "Save over it?"), wrapped(sentenceOf(err)), w.win)
	d.SetButtons([]fyne.CanvasObject{
		widget.NewButton(tr("pair.cancel", "Cancel"), d.Hide),
		widget.NewButton(tr("save.overit", "Save over it"), leave(func() { w.saveOver(path, true, then) })),
		elsewhere,
	})
	d.Resize(fyne.NewSize(560, 200))
	d.Show()
	w.trace.put(Trace{Event: "asked", Name: "changed", Text: path})
}

// freeName returns a name beside a file that no file there has.
func freeName(path string) string {
	ending := filepath.Ext(path)
	for n := 2; ; n++ {
		free := fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ending), n, ending)
		if _, err := os.Lstat(free); err != nil {
			return free
		}
	}
}

// saveAs asks for a file and writes the job to it.
func (w *Window) saveAs(then func()) {
	if w.bench.Job() == nil || !w.settle() {
		return
	}
	w.askSave(w.savePath(), then)
}

// savePath proposes a file for the job: its own, or one called as the scan beside it.
func (w *Window) savePath() string {
	job := w.bench.Job()
	path := job.Path
	if path == "" {
		first := firstFile(job)
		path = strings.TrimSuffix(first, filepath.Ext(first)) + ".toml"
	}
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

// besideOf returns a typed path as it is meant: a name alone lies beside what was proposed, wherever the program was started.
func besideOf(proposed, typed string) string {
	if filepath.IsAbs(typed) {
		return typed
	}
	return filepath.Join(filepath.Dir(proposed), typed)
}

// askSave asks for the file to write the job to.
func (w *Window) askSave(path string, then func()) {
	w.askPath(tr("choose.save", "Save the job as"), tr("save.file", "File"), tr("save.hint", "An inspection file, .toml"), tr("header.save", "Save"), path, joined, func(path string) {
		switch {
		case path == "":
			return
		case !isJob(path):
			path += ".toml"
		}
		own := w.savePath()
		path = besideOf(own, path)
		if path == own && w.bench.Job().Path != "" {
			w.saveTo(path, then)
			return
		}
		w.worker.aside(func() {
			info, err := os.Stat(path)
			w.opt.Post(func() {
				switch {
				case w.bench.Job() == nil:
				case err != nil:
					w.saveTo(path, then)
				case info.IsDir():
					w.failed(errors.New(trf("save.folder", "{{.File}} is a folder. Name a file in it.", map[string]any{"File": path})))
				default:
					w.askOver(path, then)
				}
			})
		})
	})
}

// askOver asks whether a job may be written over a file that is there.
func (w *Window) askOver(path string, then func()) {
	dialog.ShowConfirm(tr("save.over", "Replace the file there?"), trf("save.over.text", "{{.File}} is there already.", map[string]any{"File": path}), func(yes bool) {
		if yes {
			w.saveTo(path, then)
		} else {
			w.askSave(path, then)
		}
	}, w.win)
}

func joined(dir, name string) string { return filepath.Join(dir, name) }
