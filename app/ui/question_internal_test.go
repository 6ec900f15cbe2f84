package ui

import (
	"errors"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
)

// strike is a key as the toolkit's driver hands it on: to what has the focus, else to the window; the letter follows the key.
func (r *rig) strike(name fyne.KeyName) {
	c := r.win.Canvas()
	e := &fyne.KeyEvent{Name: name}
	if o := c.Focused(); o != nil {
		o.TypedKey(e)
	} else {
		c.OnTypedKey()(e)
	}
	if name != fyne.KeySpace {
		return
	}
	if o := c.Focused(); o != nil {
		o.TypedRune(' ')
	}
}

// A question has the keys to itself, whether anything of it has the focus or not.
func TestAQuestionAnswersToKeys(t *testing.T) {
	r := newRig(t)
	r.open()
	r.paint()
	r.bench.Show(bench.Seams)
	r.idle()
	r.bench.Select(0, 3)
	r.paint()
	open := func() bool { return r.asking() }
	camera := r.view.camera
	for _, onButton := range []bool{false, true} {
		for _, key := range []fyne.KeyName{fyne.KeyReturn, fyne.KeyEnter, fyne.KeyEscape} {
			r.failed(errors.New("this went wrong"))
			require.True(t, open())
			if onButton {
				r.win.Canvas().FocusNext()
				require.IsType(t, &pushButton{}, r.win.Canvas().Focused())
			}
			for _, behind := range []fyne.KeyName{fyne.KeyL, fyne.KeyT, fyne.KeyRight, fyne.KeyEnd, fyne.KeyF1, fyne.KeyF10, fyne.KeyBackspace} {
				r.strike(behind)
			}
			_, station := r.bench.Selection()
			require.Equal(t, 3, station, "nothing gets behind")
			require.Len(t, r.win.Canvas().Overlays().List(), 1)
			r.strike(key)
			require.False(t, open(), "%s, focus on the button: %v", key, onButton)
		}
	}
	require.Equal(t, camera, r.view.camera, "the view behind stays as it is")
}

// Return stands for the highlighted button; where none is highlighted it leaves the choice to the user.
func TestReturnStandsForTheHighlightedButton(t *testing.T) {
	r := newRig(t)
	r.open()
	taken := ""
	r.offerUnsaved([]bench.Unsaved{{Job: "van.toml"}})
	r.win.Canvas().Unfocus()
	buttons := buttonsIn(r.win.Canvas().Overlays().Top())
	require.Len(t, buttons, 3)
	for _, b := range buttons {
		b.OnTapped = func() { taken = b.Text; r.win.Canvas().Overlays().Top().Hide() }
	}
	r.strike(fyne.KeyReturn)
	require.Equal(t, "Take them back", taken)
	require.False(t, r.asking())

	r.askReplace(0, "", "/results", func() { taken = "replaced" }, func() {})
	taken = ""
	r.strike(fyne.KeyReturn)
	require.Empty(t, taken, "what takes something away is not done by a key in passing")
	require.True(t, r.asking())
	r.strike(fyne.KeyEscape)
	require.False(t, r.asking())
}

// F1 is for the words wherever the focus is; a space that presses a door or a button is not typed into what it opens.
func TestButtonsHandKeysOn(t *testing.T) {
	r := newRig(t)
	r.paint()
	r.win.Canvas().FocusNext()
	d, ok := r.win.Canvas().Focused().(*door)
	require.True(t, ok)
	require.NotNil(t, d)
	r.strike(fyne.KeySpace)
	entry, ok := r.win.Canvas().Focused().(*pathEntry)
	require.True(t, ok)
	require.Empty(t, entry.Text)
	r.strike(fyne.KeyEscape)
	require.False(t, r.asking())

	r.open()
	r.paint()
	r.win.Canvas().Focus(r.bar.views)
	r.strike(fyne.KeyF1)
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "Words")
	r.strike(fyne.KeyReturn)
	require.False(t, r.asking())
	r.win.Canvas().Focus(r.header.write)
	r.strike(fyne.KeySpace)
	r.pump("the question for a folder", r.asking)
	require.NotEqual(t, " ", r.win.Canvas().Focused().(*pathEntry).Text)
}

// The arrows go on from what is chosen when a list is opened.
func TestAListBeginsAtWhatIsChosen(t *testing.T) {
	test.NewTempApp(t)
	c := newChooser([]string{"A", "B", "none"})
	c.SetSelectedIndex(0)
	w := test.NewTempWindow(t, c)
	w.Resize(fyne.NewSize(300, 300))
	w.Canvas().Focus(c)
	press := func(k fyne.KeyName) { w.Canvas().Focused().TypedKey(&fyne.KeyEvent{Name: k}) }
	for _, want := range []string{"B", "none"} {
		press(fyne.KeySpace)
		require.NotNil(t, w.Canvas().Overlays().Top())
		press(fyne.KeyDown)
		press(fyne.KeyReturn)
		require.Equal(t, want, c.Selected)
		require.Nil(t, w.Canvas().Overlays().Top())
	}
	press(fyne.KeySpace)
	press(fyne.KeyUp)
	press(fyne.KeyReturn)
	require.Equal(t, "B", c.Selected)
}
