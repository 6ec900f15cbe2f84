package ui

import (
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"shutline/app/bench"
)

func ctrl(k fyne.KeyName) fyne.Shortcut {
	return &desktop.CustomShortcut{KeyName: k, Modifier: fyne.KeyModifierShortcutDefault}
}

func ctrlShift(k fyne.KeyName) fyne.Shortcut {
	return &desktop.CustomShortcut{KeyName: k, Modifier: fyne.KeyModifierShortcutDefault | fyne.KeyModifierShift}
}

func alt(k fyne.KeyName) fyne.Shortcut {
	return &desktop.CustomShortcut{KeyName: k, Modifier: fyne.KeyModifierAlt}
}

func item(title string, key fyne.Shortcut, do func()) *fyne.MenuItem {
	i := fyne.NewMenuItem(title, do)
	i.Shortcut = key
	return i
}

// menu holds every command, with its shortcut.
func (w *Window) menu() *fyne.MainMenu {
	recent := fyne.NewMenuItem(tr("menu.recent", "Open recent"), nil)
	recent.ChildMenu = fyne.NewMenu("")
	for i, path := range w.recent() {
		title := shorten(filepath.Base(path)+"  –  "+filepath.Dir(path), 70)
		recent.ChildMenu.Items = append(recent.ChildMenu.Items, item(title, ctrlShift(fyne.KeyName(rune('1'+i))), w.acts(func() { w.openJob(path) })))
	}
	recent.Disabled = len(recent.ChildMenu.Items) == 0
	demo := item(tr("menu.demo", "Demo job"), ctrlShift(fyne.KeyT), w.looks(w.openDemo))
	demo.Disabled = w.opt.Demo == nil
	quit := item(tr("menu.quit", "Quit"), ctrl(fyne.KeyQ), w.looks(w.askClose))
	quit.IsQuit = true
	file := fyne.NewMenu(tr("menu.file", "File"),
		item(tr("menu.pair", "Open scan and reference …"), ctrl(fyne.KeyN), w.acts(w.askPair)),
		item(tr("menu.job", "Open job …"), ctrl(fyne.KeyO), w.acts(w.askJob)),
		recent, demo,
		item(tr("menu.reference", "Add a reference …"), ctrlShift(fyne.KeyR), w.acts(w.addReference)),
		fyne.NewMenuItemSeparator(),
		item(tr("menu.save", "Save"), ctrl(fyne.KeyS), w.acts(func() { w.save(nil) })),
		item(tr("menu.saveas", "Save as …"), ctrlShift(fyne.KeyS), w.acts(func() { w.saveAs(nil) })),
		item(tr("menu.compare", "Compare with another result …"), ctrlShift(fyne.KeyC), w.acts(w.askCompare)),
		item(tr("menu.write", "Write evidence …"), ctrl(fyne.KeyE), w.acts(w.writeEvidence)),
		fyne.NewMenuItemSeparator(), quit)
	edit := fyne.NewMenu(tr("menu.edit", "Edit"),
		item(tr("menu.undo", "Undo"), &fyne.ShortcutUndo{}, w.undoKey),
		item(tr("menu.redo", "Redo"), &fyne.ShortcutRedo{}, w.redoKey),
		fyne.NewMenuItemSeparator(),
		item(tr("menu.newseam", "New seam"), ctrlShift(fyne.KeyN), w.acts(w.beginSeam)),
		item(tr("menu.find", "Find seams"), ctrlShift(fyne.KeyF), w.acts(w.findSeams)),
		item(tr("menu.delete", "Delete the seam"), ctrlShift(fyne.KeyD), w.acts(w.deleteSeam)),
		item(tr("menu.path", "Move the path of the seam"), ctrlShift(fyne.KeyM), w.acts(w.bend)),
		item(tr("menu.pairs", "Place by pairs of points"), ctrlShift(fyne.KeyP), w.acts(w.beginPairs)))
	view := fyne.NewMenu(tr("menu.view", "View"), w.viewItems(false)...)
	view.Items = append(view.Items,
		item(tr("menu.fit", "Whole part"), alt(fyne.Key0), w.looks(func() { w.view.fitAll() })),
		item(tr("menu.station", "Look at the station"), alt(fyne.KeyReturn), w.looks(w.lookAt)),
		item(tr("menu.cut", "Show or hide the cut"), ctrl(fyne.KeyI), w.looks(w.toggleInset)),
		item(tr("menu.calls", "Show or hide the call-outs"), ctrl(fyne.KeyK), w.looks(w.toggleCalls)),
		fyne.NewMenuItemSeparator(),
		w.lookItem(tr("menu.light", "Light"), "light", fyne.KeyL), w.lookItem(tr("menu.dark", "Dark"), "dark", fyne.KeyB), w.lookItem(tr("menu.system", "As the system"), "", fyne.KeyY),
		fyne.NewMenuItemSeparator(), w.languageMenu())
	stages := fyne.NewMenu(tr("menu.stage", "Stage"))
	for i, s := range bench.Stages() {
		stages.Items = append(stages.Items, item(stageName(s), ctrl(fyne.KeyName(rune('1'+i))), w.looks(func() { w.show(s) })))
	}
	stages.Items = append(stages.Items, fyne.NewMenuItemSeparator(),
		item(tr("menu.next", "Next station"), alt(fyne.KeyRight), w.looks(func() { w.walk(fyne.KeyRight) })),
		item(tr("menu.previous", "Previous station"), alt(fyne.KeyLeft), w.looks(func() { w.walk(fyne.KeyLeft) })),
		item(tr("menu.nextseam", "Next seam"), alt(fyne.KeyDown), w.looks(func() { w.walk(fyne.KeyDown) })),
		item(tr("menu.previousseam", "Previous seam"), alt(fyne.KeyUp), w.looks(func() { w.walk(fyne.KeyUp) })),
		fyne.NewMenuItemSeparator(),
		item(tr("menu.again", "Go on with the work"), ctrl(fyne.KeyR), w.acts(w.again)),
		item(tr("menu.stop", "Stop the work"), ctrl(fyne.KeyPeriod), w.looks(w.bench.Stop)))
	help := fyne.NewMenu(tr("menu.help", "Help"),
		item(tr("menu.words", "Words"), ctrlShift(fyne.KeyW), w.looks(w.showWords)),
		item(tr("menu.keys", "Mouse and keys"), ctrl(fyne.KeySlash), w.looks(w.showKeys)),
		item(tr("menu.about", "About Shutline"), ctrlShift(fyne.KeyA), w.looks(w.showAbout)))
	return fyne.NewMainMenu(file, edit, view, stages, help)
}

func (w *Window) lookItem(title, mode string, key fyne.KeyName) *fyne.MenuItem {
	i := item(title, ctrlShift(key), func() {
		w.look.Mode = mode
		w.app.Preferences().SetString(prefLook, mode)
		w.repaint()
		w.win.SetMainMenu(w.menu())
	})
	i.Checked = w.look.Mode == mode
	return i
}

func (w *Window) showKeys() {
	lines := tr("keys.text", `Drag – turn the part about the point under the pointer
Shift + drag, right or middle drag – shift the part
Wheel, + and − – zoom at the pointer
Double click – bring a point to the middle
Click – mark a station

← → – walk the stations;  ↑ ↓ – next seam;  Home, End – first, last station
Return – look at the marked station
L R F B T U Q – left, right, front, rear, top, bottom, three-quarter
Escape – stop the work
F1 – what the words mean
F10 or Alt – the menus;  Alt and a menu’s first letter – that menu;  there: arrows, Return, Escape
Drawing a seam: click – a point;  Return or double click – end;  Backspace – take one back;  Escape – stop
In a field: Return – take the text over;  Escape – bring the setting back
Tab – next field or part of the window`)
	w.showText(tr("menu.keys", "Mouse and keys"), widget.NewLabel(lines), 0, 0)
}

func (w *Window) showAbout() {
	s := trf("about.text", "Shutline {{.Version}}. Gap, flush and surface of scanned bodywork, with uncertainty.", map[string]any{"Version": w.opt.Version})
	for _, c := range w.words.Cautions() {
		s += "\n\n" + c
	}
	w.showText(tr("menu.about", "About Shutline"), wrapped(s), 560, 320)
}
