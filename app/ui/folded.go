package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

var _ fyne.Widget = (*folded)(nil)

// folded is what lies in a fold. The toolkit measures what is folded away too; this one is made and measured when it is first shown.
type folded struct {
	widget.BaseWidget
	make    func() fyne.CanvasObject
	content fyne.CanvasObject // nil: not made yet
}

// newFold makes a fold under a title.
func newFold(title string, open bool, make func() fyne.CanvasObject) (*widget.Accordion, *widget.AccordionItem) {
	f := &folded{make: make}
	f.ExtendBaseWidget(f)
	f.Hidden = !open
	if open {
		f.content = make()
	}
	item := widget.NewAccordionItem(title, f)
	item.Open = open
	return widget.NewAccordion(item), item
}

// Show makes what is not there yet.
func (f *folded) Show() {
	if f.content == nil {
		f.content = f.make()
	}
	f.BaseWidget.Show()
}

// MinSize is nothing while it is folded away.
func (f *folded) MinSize() fyne.Size {
	if f.Hidden || f.content == nil {
		return fyne.Size{}
	}
	return f.content.MinSize()
}

// CreateRenderer is part of fyne.Widget.
func (f *folded) CreateRenderer() fyne.WidgetRenderer { return &foldedRenderer{f} }

type foldedRenderer struct{ f *folded }

func (r *foldedRenderer) Layout(s fyne.Size) {
	if r.f.content != nil {
		r.f.content.Resize(s)
	}
}
func (r *foldedRenderer) MinSize() fyne.Size { return r.f.MinSize() }
func (r *foldedRenderer) Refresh() {
	if r.f.content != nil {
		r.f.content.Refresh()
	}
}
func (r *foldedRenderer) Destroy() {}
func (r *foldedRenderer) Objects() []fyne.CanvasObject {
	if r.f.content == nil {
		return nil
	}
	return []fyne.CanvasObject{r.f.content}
}
