package ui

import (
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2/container"
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
	var submit, hide func()
	open := func(path string) { hide(); w.openJob(path) }
	entry := newPathEntry("")
	entry.SetPlaceHolder(tr("save.hint", "An inspection file, .toml"))
	browse := newIconButton(tr("pair.browse", "Browse"), theme.FolderOpenIcon(), func() { w.chooseFileIn(dir, []string{".toml"}, open) })
	items := []*widget.FormItem{widget.NewFormItem(tr("save.file", "File"), container.NewBorder(nil, nil, nil, browse, entry))}
	list := container.NewVBox()
	for i, path := range w.recent() {
		if i == askedRecent {
			break
		}
		b := newButton(shorten(filepath.Base(path)+"  –  "+filepath.Dir(path), 76), func() { open(path) })
		b.Importance, b.Alignment = widget.LowImportance, widget.ButtonAlignLeading
		list.Add(b)
	}
	if len(list.Objects) > 0 {
		items = append(items, widget.NewFormItem(tr("askjob.recent", "Recent jobs"), list))
	}
	submit, hide = w.fill(tr("askjob.title", "Open a job"), tr("pair.open", "Open"), tr("pair.cancel", "Cancel"), items, 720, 200, func() {
		if path := strings.TrimSpace(entry.Text); path != "" {
			w.openJob(w.typedPath(path, dir))
		}
	})
	entry.escape = hide
	entry.OnSubmitted = func(string) {
		if strings.TrimSpace(entry.Text) != "" {
			submit()
		}
	}
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
