package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
)

// barCanvas is a canvas with a menu bar, as the desktop's is; the test driver's has none.
type barCanvas struct {
	fyne.Canvas
	toggled, next int
}

func (c *barCanvas) ToggleMenu() { c.toggled++ }
func (c *barCanvas) FocusNext()  { c.next++ }

type barWindow struct {
	fyne.Window
	canvas *barCanvas
}

func (w *barWindow) Canvas() fyne.Canvas { return w.canvas }

func TestMenusOpenByKeys(t *testing.T) {
	r := newRig(t)
	r.open()
	bar := &barCanvas{Canvas: r.win.Canvas()}
	r.win = &barWindow{r.win, bar}
	r.key(&fyne.KeyEvent{Name: fyne.KeyF10})
	require.Equal(t, []int{1, 0}, []int{bar.toggled, bar.next}, "F10: the first menu")
	letters := menuLetters(r.win.MainMenu())
	require.Len(t, letters, len(r.win.MainMenu().Items), "every menu has a letter of its own")
	r.openMenu(letters[fyne.KeyV])
	require.Equal(t, []int{2, 2}, []int{bar.toggled, bar.next}, "Alt+V: the third menu")
	// From a setting, too, whose text is taken over first.
	r.bench.Show(bench.Seams)
	f := r.typed("Flush off by, mm", "0.3")
	f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyF10})
	require.Equal(t, 0.3, r.flush().Hi)
	require.Equal(t, 3, bar.toggled)
	f = r.typed("Flush off by, mm", "nonsense")
	f.TypedShortcut(alt(fyne.KeyF))
	require.Equal(t, 3, bar.toggled, "a text that is refused is shown first")
	f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	f.TypedShortcut(alt(fyne.KeyF))
	require.Equal(t, 4, bar.toggled)
	// Not for the window behind a question.
	r.askJob()
	r.openMenu(0)
	require.Equal(t, 4, bar.toggled)
}

func TestEveryCommandHasAKey(t *testing.T) {
	r := newRig(t)
	r.app.Preferences().SetStringList(prefRecent, []string{"menukeys.go", "askjob.go"})
	keys := map[string]string{}
	var walk func(m *fyne.Menu)
	walk = func(m *fyne.Menu) {
		for _, i := range m.Items {
			switch {
			case i.IsSeparator:
			case i.ChildMenu != nil:
				walk(i.ChildMenu)
			default:
				require.NotNil(t, i.Shortcut, i.Label)
				require.Empty(t, keys[i.Shortcut.ShortcutName()], "%s has the key of another", i.Label)
				keys[i.Shortcut.ShortcutName()] = i.Label
			}
		}
	}
	m := r.menu()
	for _, menu := range m.Items {
		walk(menu)
	}
	for name := range menuLetters(m) {
		require.Empty(t, keys[alt(name).ShortcutName()])
	}
	require.Greater(t, len(keys), 40)
}

func TestAJobIsOpenedByTypingItsPath(t *testing.T) {
	r := newRig(t)
	r.app.Preferences().SetString(prefFolder, "/jobs")
	r.askJob()
	e, ok := r.win.Canvas().Focused().(*pathEntry)
	require.True(t, ok, "the field has the focus")
	e.SetText("van.toml")
	e.OnSubmitted(e.Text)
	r.idle()
	require.NotNil(t, r.bench.Job())
	require.False(t, r.asking())
	require.Equal(t, "/jobs/van.toml", r.typedPath("van.toml", ""))
	require.Equal(t, "/other/van.toml", r.typedPath("van.toml", "/other"))
	require.Equal(t, "/van.toml", r.typedPath("/van.toml", "/other"))
}
