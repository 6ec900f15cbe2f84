package ui

import (
	"path/filepath"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app/inspection"
)

// header names the job and its files and holds what acts on the job as a whole.
type header struct {
	w                       *Window
	content                 *fyne.Container
	title, files            *canvas.Text
	undo, redo, save, write *pushButton
}

func newHeader(w *Window) *header {
	p := currentPalette()
	h := &header{w: w, title: text("", sizeTitle, p.Ink, true), files: text("", sizeCaption, p.Faint, false)}
	h.undo = newIconButton(tr("header.undo", "Undo"), theme.ContentUndoIcon(), w.undo)
	h.redo = newIconButton(tr("header.redo", "Redo"), theme.ContentRedoIcon(), w.redo)
	h.save = newIconButton(tr("header.save", "Save"), theme.DocumentSaveIcon(), func() { w.save(nil) })
	h.write = newButton(tr("header.write", "Write evidence"), w.writeEvidence)
	h.write.Importance = widget.HighImportance
	h.undo.Importance, h.redo.Importance, h.save.Importance = widget.LowImportance, widget.LowImportance, widget.LowImportance
	names := container.NewVBox(h.title, h.files)
	buttons := container.NewHBox(h.undo, h.redo, h.save, h.write)
	h.content = padded(8, 8, 16, 12, container.NewBorder(nil, nil, nil, container.NewCenter(buttons), container.New(clipped{}, names)))
	return h
}

// clipped lets a long name give way instead of widening the window.
type clipped struct{}

func (clipped) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(200, o[0].MinSize().Height)
}
func (clipped) Layout(o []fyne.CanvasObject, s fyne.Size) {
	m := o[0].MinSize()
	o[0].Resize(fyne.NewSize(s.Width, m.Height))
	o[0].Move(fyne.NewPos(0, (s.Height-m.Height)/2))
}

func enable(b *pushButton, on bool) {
	if on {
		b.Enable()
	} else {
		b.Disable()
	}
}

func (h *header) refresh() {
	p, b := currentPalette(), h.w.bench
	job := b.Job()
	h.title.Color, h.files.Color = p.Ink, p.Faint
	enable(h.undo, b.CanUndo() != "" || h.w.card.settings.typed() != nil)
	enable(h.redo, b.CanRedo() != "")
	enable(h.save, job != nil)
	enable(h.write, job != nil)
	if job == nil {
		h.title.Text, h.files.Text = tr("window.title", "Shutline"), tr("header.nothing", "Nothing on the bench")
		h.w.win.SetTitle(h.title.Text)
	} else {
		title := job.Title
		if title == "" {
			title = strings.TrimSuffix(filepath.Base(firstFile(job)), filepath.Ext(firstFile(job)))
		}
		h.title.Text = title
		if h.w.dirty() {
			h.title.Text += "  " + tr("header.changed", "(changed)")
		}
		h.files.Text = shorten(filepath.Base(job.Scan.File), 48)
		if n := len(job.Pieces); n > 0 {
			h.files.Text = trf("header.pieces", "{{.N}} pieces, {{.First}} …", map[string]any{"N": strconv.Itoa(n), "First": shorten(filepath.Base(job.Pieces[0].File), 40)})
		}
		if job.Reference != nil {
			h.files.Text += "   ·   " + shorten(filepath.Base(job.Reference.File), 48)
			if m := job.Reference.Mirror; m != "" && m != "none" {
				h.files.Text += " " + trf("header.mirrored", "(mirrored in {{.Axis}})", map[string]any{"Axis": mirrorName(m)})
			}
		}
		if h.w.dirty() {
			title += " " + tr("header.changed", "(changed)")
		}
		if title += " – " + tr("window.title", "Shutline"); h.w.win.Title() != title {
			h.w.win.SetTitle(title)
		}
		if h.w.history != "" {
			h.files.Text = h.w.history + "   ·   " + h.files.Text
		}
	}
	h.title.Text = shorten(h.title.Text, 60)
	h.title.Refresh()
	h.files.Refresh()
}

// firstFile is the scan's file, or the first of its pieces.
func firstFile(job *inspection.Inspection) string {
	if len(job.Pieces) > 0 {
		return job.Pieces[0].File
	}
	return job.Scan.File
}

// shorten cuts the middle out of a text of more than n letters.
func shorten(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n/2]) + "…" + string(r[len(r)-n/2+1:])
}
