package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/theme"

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

// viewBar is the small menu over the view. The named views unfold below it, on the
// view itself: a menu of the toolkit's would swallow the next click elsewhere.
type viewBar struct {
	w       *Window
	content *fyne.Container
	named   *fyne.Container
	which   *pushButton
	views   *pushButton
	pairs   *pushButton
	seams   *pushButton
	find    *pushButton
	path    *pushButton
	cut     *pushButton
	compare *pushButton
	apart   *pushButton
	row     *fyne.Container // of what is always there
	flow    flow
}

func newViewBar(w *Window) *viewBar {
	b := &viewBar{w: w}
	b.views = newIconButton(tr("bar.views", "Views"), theme.MenuDropDownIcon(), b.unfold)
	fit := newButton(tr("bar.fit", "Fit"), w.view.fitAll)
	b.which = newButton("", func() {
		w.scene.showReference = !w.scene.showReference
		w.refreshScene()
	})
	b.pairs = newButton(tr("bar.pairs", "Pick pairs"), w.beginPairs)
	b.seams = newIconButton(tr("bar.newseam", "New seam"), theme.ContentAddIcon(), w.beginSeam)
	b.find = newIconButton(tr("bar.find", "Find seams"), theme.SearchIcon(), w.findSeams)
	b.path = newButton(tr("bar.path", "Move the path"), w.bend)
	b.cut = newButton(tr("bar.cut", "Show the cut"), w.toggleInset)
	b.compare = newButton(tr("bar.compare", "Compare"), w.askCompare)
	b.apart = newButton("", w.turnApart)
	b.named = container.New(layout.NewCustomPaddedHBoxLayout(4))
	for _, v := range namedViews {
		b.named.Add(newButton(viewTitle(v.name)+"  "+v.letter, func() {
			b.unfold()
			w.view.fit(v.name)
		}))
	}
	b.named.Hide()
	b.row = container.New(&b.flow, b.views, fit, b.which, b.pairs, b.seams, b.find, b.path, b.cut, b.compare, b.apart)
	b.content = container.NewVBox(b.row, b.named)
	return b
}

// unfold shows the named views, or folds them up.
func (b *viewBar) unfold() {
	if b.named.Visible() {
		b.named.Hide()
		b.views.SetIcon(theme.MenuDropDownIcon())
	} else {
		b.named.Show()
		b.views.SetIcon(theme.MenuDropUpIcon())
	}
	laidOut(b.w.over, b.content)
}

// offer shows a button where it makes sense, as Cancel while its work is in hand.
func offer(b *pushButton, on, begun bool, title string, icon fyne.Resource) {
	if !on {
		b.Hide()
		return
	}
	if begun {
		title, icon = tr("bar.endseam", "Cancel"), theme.CancelIcon()
	}
	if b.Text != title || b.Icon != icon {
		b.Text, b.Icon = title, icon
		b.Refresh()
	}
	b.Show()
}

func (b *viewBar) refresh() {
	w, stage, o := b.w, b.w.bench.Shown(), b.w.bench.Outcome()
	which := tr("bar.scan", "Scan shown – show reference")
	if w.scene.showReference {
		which = tr("bar.reference", "Reference shown – show scan")
	}
	offer(b.which, stage == bench.Parts && o.Parts != nil && o.Parts.Mirrored != nil, false, which, nil)
	free := !w.busyHands()
	placed := stage == bench.Seams && o.Placed != nil
	offer(b.pairs, stage == bench.Place && o.Parts != nil && o.Parts.Mirrored != nil, w.pairing != nil, tr("bar.pairs", "Pick pairs"), nil)
	offer(b.seams, placed && (free || w.drawing != nil), w.drawing != nil, tr("bar.newseam", "New seam"), theme.ContentAddIcon())
	offer(b.find, placed && (free || w.proposed != nil), w.proposed != nil, tr("bar.find", "Find seams"), theme.SearchIcon())
	seam, _ := w.bench.Selection()
	job := w.bench.Job()
	bendable := job != nil && seam < len(job.Seams) && len(job.Seams[seam].Path) > 1
	offer(b.path, placed && bendable && (free || w.bending != nil), w.bending != nil, tr("bar.path", "Move the path"), nil)
	offer(b.compare, stage == bench.Surface && o.Compared != nil, w.compared != nil, tr("bar.compare", "Compare"), nil)
	switch x := w.compared; {
	case x == nil:
		b.apart.Hide()
	case x.apart:
		offer(b.apart, true, false, tr("bar.difference", "Show the change"), nil)
	default:
		offer(b.apart, true, false, tr("bar.apart", "Before and after"), nil)
	}
	offer(b.cut, stage == bench.Seams && w.insetClosed && free && w.bench.Station() != nil, false, tr("bar.cut", "Show the cut"), nil)
	laidOut(w.over, b.content, b.row)
}

// viewItems are the menu items of the named views; plain adds the letters of their keys.
func (w *Window) viewItems(plain bool) []*fyne.MenuItem {
	var items []*fyne.MenuItem
	for i, v := range namedViews {
		title := viewTitle(v.name)
		if plain {
			title += "    " + v.letter
		}
		item := fyne.NewMenuItem(title, w.looks(func() { w.view.fit(v.name) }))
		if !plain {
			item.Shortcut = alt(fyne.KeyName(rune('1' + i)))
		}
		items = append(items, item)
	}
	return items
}
