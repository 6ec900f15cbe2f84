package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
)

// namedViews are the named views in the order of menus, with their keys.
var namedViews = []struct{ name, letter string }{
	{"left", "L"}, {"right", "R"}, {"front", "F"}, {"rear", "B"}, {"top", "T"}, {"bottom", "U"}, {"three-quarter", "Q"},
}

func viewTitle(name string) string {
	switch name {
	case "left":
		return tr("view.left", "Left")
	case "right":
		return tr("view.right", "Right")
	case "front":
		return tr("view.front", "Front")
	case "rear":
		return tr("view.rear", "Rear")
	case "top":
		return tr("view.top", "Top")
	case "bottom":
		return tr("view.bottom", "Bottom")
	}
	return tr("view.three-quarter", "Three-quarter")
}

// viewBar is the small menu over the view.
type viewBar struct {
	w       *Window
	content *fyne.Container
	which   *widget.Button
	views   *widget.Button
	seams   *widget.Button
	cut     *widget.Button
}

func newViewBar(w *Window) *viewBar {
	b := &viewBar{w: w}
	b.views = widget.NewButtonWithIcon(tr("bar.views", "Views"), theme.MenuDropDownIcon(), func() {
		c := w.win.Canvas()
		at := fyne.CurrentApp().Driver().AbsolutePositionForObject(b.views)
		widget.ShowPopUpMenuAtPosition(fyne.NewMenu("", w.viewItems(true)...), c, at.AddXY(0, b.views.Size().Height+2))
	})
	fit := widget.NewButton(tr("bar.fit", "Fit"), w.view.fitAll)
	b.which = widget.NewButton("", func() {
		w.scene.showReference = !w.scene.showReference
		w.refreshScene()
	})
	b.seams = widget.NewButtonWithIcon(tr("bar.newseam", "New seam"), theme.ContentAddIcon(), w.beginSeam)
	b.cut = widget.NewButton(tr("bar.cut", "Show the cut"), w.toggleInset)
	b.content = container.NewHBox(b.views, fit, b.which, b.seams, b.cut)
	return b
}

func (b *viewBar) refresh() {
	stage := b.w.bench.Shown()
	b.which.Hide()
	if parts := b.w.bench.Outcome().Parts; stage == bench.Parts && parts != nil && parts.Mirrored != nil {
		b.which.SetText(tr("bar.scan", "Scan shown – show reference"))
		if b.w.scene.showReference {
			b.which.SetText(tr("bar.reference", "Reference shown – show scan"))
		}
		b.which.Show()
	}
	b.seams.Hide()
	if stage == bench.Seams && b.w.bench.Outcome().Placed != nil {
		b.seams.SetText(tr("bar.newseam", "New seam"))
		b.seams.SetIcon(theme.ContentAddIcon())
		if b.w.drawing != nil {
			b.seams.SetText(tr("bar.endseam", "Cancel"))
			b.seams.SetIcon(theme.CancelIcon())
		}
		b.seams.Show()
	}
	b.cut.Hide()
	if stage == bench.Seams && b.w.insetClosed && b.w.drawing == nil && b.w.bench.Station() != nil {
		b.cut.Show()
	}
	b.content.Refresh()
}

// viewItems are the menu items of the named views; plain adds the letters of their keys.
func (w *Window) viewItems(plain bool) []*fyne.MenuItem {
	var items []*fyne.MenuItem
	for i, v := range namedViews {
		title := viewTitle(v.name)
		if plain {
			title += "    " + v.letter
		}
		item := fyne.NewMenuItem(title, func() { w.view.fit(v.name) })
		if !plain {
			item.Shortcut = alt(fyne.KeyName(rune('1' + i)))
		}
		items = append(items, item)
	}
	return items
}
