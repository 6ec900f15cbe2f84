package ui

import (
	"context"
	"errors"
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

// askPair asks for a scan and a reference.
func (w *Window) askPair() { w.pairForm("", "") }

// pairForm asks for a scan and a reference, with what is known filled in; ignored are files that were
// dropped besides.
func (w *Window) pairForm(scan, reference string, ignored ...string) {
	var scanEntry, refEntry *pathEntry
	filling := false // what stands there is changed from here
	chosen := func(e *pathEntry, path string) {
		filling = true
		defer func() { filling = false }()
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
		browse := newIconButton(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() {
			w.chooseFile(meshEndings, func(path string) { chosen(e, path) })
		})
		return e, container.NewBorder(nil, nil, nil, browse, e)
	}
	var scanRow, refRow fyne.CanvasObject
	scanEntry, scanRow = row(scan, true)
	refEntry, refRow = row(reference, false)
	scanEntry.OnChanged = func(string) { // typed: what lies beside it is filled in as where it is chosen
		path := strings.TrimSpace(scanEntry.Text)
		if filling || strings.TrimSpace(refEntry.Text) != "" || !isMesh(path) || namesReference(path) {
			return
		}
		if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
			refEntry.SetText(fellow(path))
		}
	}
	swap := newButton(tr("pair.swap", "Swap"), func() {
		filling = true
		defer func() { filling = false }()
		a, b := scanEntry.Text, refEntry.Text
		scanEntry.SetText(b)
		refEntry.SetText(a)
	})
	items := []*widget.FormItem{widget.NewFormItem(tr("pair.scan", "Scan"), scanRow), widget.NewFormItem(tr("pair.reference", "Reference"), refRow), widget.NewFormItem("", container.NewHBox(swap))}
	if len(ignored) > 0 {
		items = append(items, widget.NewFormItem("", widget.NewLabel(trf("pair.ignored", "Left out: {{.Names}}. A scan and a reference are opened at a time.", map[string]any{"Names": shorten(strings.Join(ignored, ", "), 60)}))))
	}
	submit, hide := w.fill(tr("pair.title", "Open scan and reference"), tr("pair.open", "Open"), tr("pair.cancel", "Cancel"), items, 720, 240, func() {
		if strings.TrimSpace(scanEntry.Text) != "" {
			w.openPair(strings.TrimSpace(scanEntry.Text), strings.TrimSpace(refEntry.Text))
		}
	})
	scanEntry.escape, refEntry.escape = hide, hide
	for _, e := range []*pathEntry{scanEntry, refEntry} {
		e.OnSubmitted = func(string) {
			if strings.TrimSpace(scanEntry.Text) == "" {
				w.focusOn(scanEntry) // a reference alone is not measured
				return
			}
			submit()
		}
	}
	w.mayGiveWay(hide)
	w.pairNow, w.pairGuessed = func() []string { return []string{scanEntry.Text, refEntry.Text} }, ""
	w.focusOn(scanEntry) // where a reference came alone the scan is what lacks
}

// chooseFile lets the user choose a file with one of the endings.
func (w *Window) chooseFile(endings []string, use func(path string)) {
	w.chooseFileIn("", endings, use)
}

// chooseFileIn lets the user choose a file, beginning in a folder; "": where files were last taken from.
func (w *Window) chooseFileIn(dir string, endings []string, use func(path string)) {
	w.chooseTitled(tr("choose.file", "Open a file"), dir, endings, use)
}

// chooseTitled is chooseFileIn under a title that says what is wanted.
func (w *Window) chooseTitled(title, dir string, endings []string, use func(path string)) {
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
	d.SetTitleText(title)
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
	closes := newButton(tr("error.close", "Close"), d.Hide)
	buttons := []*pushButton{closes}
	if w.tried != nil && isOpening(err) {
		buttons = append(buttons, newButton(tr("card.again", "Try again"), func() { d.Hide(); w.tried() }))
		if w.otherFile != nil && find == nil {
			buttons = append(buttons, newButton(tr("error.other", "Other file"), func() { d.Hide(); w.otherFile() }))
		}
	}
	if find != nil {
		browse := newIconButton(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() { d.Hide(); find() })
		browse.Importance = widget.HighImportance
		buttons = append(buttons, browse)
	}
	if len(buttons) == 1 {
		highlighted(closes)
	}
	pose(d, 560, 200, buttons...)
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
