package ui

import (
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"
)

// askedRecent is how many recent jobs the question for a job lists.
const askedRecent = 4

// askJob asks for an inspection file: one of the recent ones, one whose path is typed, or one found in the folders.
func (w *Window) askJob() {
	dir := ""
	if job := w.bench.Job(); job != nil {
		dir, _ = filepath.Abs(filepath.Dir(w.besides()))
	}
	var d *dialog.FormDialog
	open := func(path string) { d.Hide(); w.openJob(path) }
	entry := newPathEntry("")
	entry.SetPlaceHolder(tr("save.hint", "An inspection file, .toml"))
	browse := widget.NewButtonWithIcon(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() { w.chooseFileIn(dir, []string{".toml"}, open) })
	items := []*widget.FormItem{widget.NewFormItem(tr("save.file", "File"), container.NewBorder(nil, nil, nil, browse, entry))}
	list := container.NewVBox()
	for i, path := range w.recent() {
		if i == askedRecent {
			break
		}
		b := widget.NewButton(shorten(filepath.Base(path)+"  –  "+filepath.Dir(path), 76), func() { open(path) })
		b.Importance, b.Alignment = widget.LowImportance, widget.ButtonAlignLeading
		list.Add(b)
	}
	if len(list.Objects) > 0 {
		items = append(items, widget.NewFormItem(tr("askjob.recent", "Recent jobs"), list))
	}
	d = dialog.NewForm(tr("askjob.title", "Open a job"), tr("pair.open", "Open"), tr("pair.cancel", "Cancel"), items, func(ok bool) {
		if path := strings.TrimSpace(entry.Text); ok && path != "" {
			w.openJob(w.typedPath(path, dir))
		}
	}, w.win)
	entry.escape = d.Hide
	entry.OnSubmitted = func(string) {
		if strings.TrimSpace(entry.Text) != "" {
			d.Submit()
		}
	}
	d.Resize(fyne.NewSize(720, 200))
	d.Show()
	w.focusOn(entry)
	w.trace.put(Trace{Event: "asked", Name: "job"})
}

// typedPath returns a typed path as it is meant: one that does not begin at the root lies beside the job, or where files were
// last taken from, or where the program was started.
func (w *Window) typedPath(typed, dir string) string {
	if filepath.IsAbs(typed) {
		return typed
	}
	if dir == "" {
		dir = w.app.Preferences().String(prefFolder)
	}
	return filepath.Join(dir, typed)
}
