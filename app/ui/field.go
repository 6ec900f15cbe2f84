package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"
)

// field is an entry of a setting. It hands its text over on return and when it
// loses the focus. Text that cannot be taken stays, marked, with a sentence
// under it, and the setting stays what it was; Escape brings the setting back.
type field struct {
	widget.Entry
	content *fyne.Container // the entry and the sentence under it
	said    *widget.Label
	read    func() string      // the setting as text
	take    func(string) error // changes the setting
	shown   string             // the setting as written into the entry last
	focused bool
	reveal  func() // shows the sentence where it lies out of sight
	handing bool   // its text is being taken over
	keep    bool   // its cursor stays where it was while it gets the focus
	pressed bool   // it gets the focus by a press of a mouse button, which says where the cursor goes
	// gone: it is no longer on the screen, and what is in it concerns nobody; twin has taken its place, or is nil.
	gone bool
	twin *field
	// follower gives the focus to what has taken its place.
	follower func(fyne.Focusable)
}

func newField(read func() string, take func(string) error) *field {
	f := &field{read: read, take: take, said: widget.NewLabel("")}
	// The entry's own scrolling would take the mouse wheel away from the card.
	f.Scroll = fyne.ScrollNone
	f.ExtendBaseWidget(f)
	f.AlwaysShowValidationError = true
	f.OnSubmitted = func(string) { f.hand() }
	f.reveal, f.follower = func() {}, func(fyne.Focusable) {}
	f.said.Wrapping = fyne.TextWrapWord
	f.said.Importance = widget.DangerImportance
	f.said.SizeName = "helperText"
	f.said.Hide()
	f.content = container.New(layout.NewCustomPaddedVBoxLayout(-2), newTrimmed(f), f.said)
	f.restore()
	return f
}

// restore shows the setting.
func (f *field) restore() {
	f.shown = f.read()
	if f.SelectedText() != "" { // the toolkit would leave the place of the selection selected, whatever lies there now
		f.Entry.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEnd})
	}
	f.SetText(f.shown)
	f.say("")
	f.fit()
}

// fit lets a text that is wider than the field scroll along in it while it is being changed, so that what is typed is seen.
func (f *field) fit() {
	scroll := fyne.ScrollNone
	if f.focused && f.textWidth() > f.Size().Width {
		scroll = fyne.ScrollHorizontalOnly
	}
	if scroll == f.Scroll {
		return
	}
	if scroll == fyne.ScrollNone { // back to the text's beginning, where the toolkit would else look for what is clicked
		at := f.CursorColumn
		f.Entry.TypedKey(&fyne.KeyEvent{Name: fyne.KeyHome})
		f.CursorColumn = min(at, len([]rune(f.Text)))
	}
	f.Scroll = scroll
	f.Refresh()
}

// textWidth is what a field needs to show all of its text.
func (f *field) textWidth() float32 {
	return fyne.MeasureText(f.Text, theme.TextSize(), f.TextStyle).Width + 2*theme.InnerPadding() + 2*theme.InputBorderSize()
}

// follow shows a setting that was changed elsewhere, unless the user is at work here.
func (f *field) follow() {
	if f.said.Visible() || f.focused && f.Text != f.shown {
		return
	}
	if f.read() != f.shown || f.Text != f.shown {
		f.restore()
	}
}

// pending reports whether a text was typed that is not taken over, or was refused.
func (f *field) pending() bool { return !f.gone && !f.handing && strings.TrimSpace(f.Text) != f.shown }

// retire takes a field from the screen; its twin, which may be nil, takes over what is being typed.
func (f *field) retire(twin *field, focus func(fyne.Focusable)) {
	pending := f.pending()
	f.gone, f.twin = true, twin
	if twin == nil {
		if f.focused { // else its cursor goes on blinking, and the window is painted for it
			f.FocusLost()
		}
		return
	}
	if pending {
		twin.SetText(f.Text)
		if f.said.Visible() {
			twin.say(f.said.Text)
		}
	}
	if f.focused {
		twin.keep = true
		focus(twin)
		twin.keep = false
		twin.CursorColumn = len([]rune(twin.Text))
	}
}

// hand takes the text over.
func (f *field) hand() {
	if f.gone {
		return
	}
	text := strings.TrimSpace(f.Text)
	if text == f.shown {
		f.restore()
		return
	}
	f.handing = true
	defer func() { f.handing = false }()
	if err := f.take(text); err != nil {
		f.say(err.Error())
		f.SetValidationError(err)
		return
	}
	f.restore()
}

// say shows a sentence under the entry; "" takes it away.
func (f *field) say(s string) {
	f.said.SetText(s)
	if s == "" {
		f.SetValidationError(nil)
		f.said.Hide()
	} else {
		f.said.Show()
	}
	f.content.Refresh()
	if s != "" {
		f.reveal()
	}
}

// FocusGained selects a setting that was reached by Tab, so that what is typed takes its place. A click puts the cursor where it
// was made, and a text that was typed and not taken over stays to go on with.
func (f *field) FocusGained() {
	if f.gone && f.twin == nil {
		return
	}
	f.focused = true
	f.Entry.FocusGained()
	if !f.keep && !f.pending() && !f.pressed {
		f.Entry.TypedShortcut(&fyne.ShortcutSelectAll{})
	}
	if !f.pressed {
		f.fit()
	}
	if f.twin != nil { // it was reached by a key while it went
		f.follower(f.twin)
	}
}

// MouseDown is part of desktop.Mouseable. The text stays under the pointer until the cursor is where it was pressed.
func (f *field) MouseDown(m *desktop.MouseEvent) {
	f.pressed = true
	f.Entry.MouseDown(m)
	f.pressed = false
	f.fit()
}

// FocusLost hands the text over.
func (f *field) FocusLost() {
	f.focused = false
	f.Entry.FocusLost()
	f.fit()
	f.hand()
}

// TypedRune is part of fyne.Focusable.
func (f *field) TypedRune(r rune) {
	f.Entry.TypedRune(r)
	f.fit()
}

// TypedKey brings the setting back on Escape.
func (f *field) TypedKey(k *fyne.KeyEvent) {
	if passKey(f, k) {
		return
	}
	if k.Name == fyne.KeyEscape {
		f.restore()
		return
	}
	f.Entry.TypedKey(k)
	f.fit()
}

// TypedShortcut is part of fyne.Shortcutable.
func (f *field) TypedShortcut(s fyne.Shortcut) {
	if !passShortcut(f, s) {
		f.Entry.TypedShortcut(s)
		f.fit()
	}
}

// TappedSecondary is part of fyne.SecondaryTappable. The toolkit's entry asks for the canvas of one that was not painted yet, and has none.
func (f *field) TappedSecondary(at *fyne.PointEvent) {
	if fyne.CurrentApp().Driver().CanvasForObject(f) != nil {
		f.Entry.TappedSecondary(at)
	}
}
