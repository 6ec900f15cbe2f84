package ui

import (
	"unicode"
	"unicode/utf8"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"
)

// The toolkit's menu bar is driven by arrows, Return and Escape once it is open, and opens when Alt alone is pressed and let go
// (v2.7.1, internal/driver/glfw). F10, and Alt with the first letter of a menu, open it here as people expect.

// menuBar is a canvas with a menu bar of its own; where the system draws the menu, the system's keys open it.
type menuBar interface {
	ToggleMenu()
	FocusNext()
}

// openedMenu is what has the focus while the menu bar is open.
type openedMenu interface{ Child() *widget.Menu }

// openMenu opens a menu of the bar for the keyboard, or closes it where it was open.
func (w *Window) openMenu(k int) {
	bar, ok := w.win.Canvas().(menuBar)
	if !ok || w.asking() {
		return
	}
	if _, open := w.win.Canvas().Focused().(openedMenu); open {
		bar.ToggleMenu()
		if k == 0 {
			return
		}
	}
	w.win.Canvas().Unfocus() // so that a typed text is taken over
	if w.asking() || !w.settle() {
		return
	}
	bar.ToggleMenu()
	for range k {
		bar.FocusNext()
	}
}

// menuLetters are the letters that open the menus of a bar; none for one whose first letter another has.
func menuLetters(m *fyne.MainMenu) map[fyne.KeyName]int {
	letters := map[fyne.KeyName]int{}
	for k, menu := range m.Items {
		first, _ := utf8.DecodeRuneInString(menu.Label)
		name := fyne.KeyName(unicode.ToUpper(first))
		if _, taken := letters[name]; !taken {
			letters[name] = k
		}
	}
	return letters
}

// listenForMenus opens the menus of the bar by Alt and their first letters.
func (w *Window) listenForMenus() {
	for name, k := range menuLetters(w.win.MainMenu()) {
		w.win.Canvas().AddShortcut(alt(name), func(fyne.Shortcut) { w.openMenu(k) })
	}
}

// passKey hands a key that means the same everywhere in the window to the window; it reports whether it did.
func passKey(o fyne.CanvasObject, e *fyne.KeyEvent) bool {
	return (e.Name == fyne.KeyF1 || e.Name == fyne.KeyF10) && passOn(o, e)
}

// passOn hands any key to the window; it reports whether it did.
func passOn(o fyne.CanvasObject, e *fyne.KeyEvent) bool {
	c := canvasOf(o)
	if c == nil || c.OnTypedKey() == nil {
		return false
	}
	c.OnTypedKey()(e)
	return true
}

// passShortcut hands keys with Alt, of which an entry knows none, to the window; it reports whether it did.
func passShortcut(o fyne.CanvasObject, s fyne.Shortcut) bool {
	custom, ok := s.(*desktop.CustomShortcut)
	if !ok || custom.Modifier != fyne.KeyModifierAlt {
		return false
	}
	c, ok := canvasOf(o).(fyne.Shortcutable)
	if ok {
		c.TypedShortcut(s)
	}
	return ok
}
