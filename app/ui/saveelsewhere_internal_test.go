package ui

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
)

// A file that somebody else has changed meanwhile is not lost: the job is saved beside it, under a name that is free.
func TestAChangedFileIsLeftAndTheJobSavedElsewhere(t *testing.T) {
	r := newRig(t)
	r.openKept()
	dir := t.TempDir()
	path, taken := filepath.Join(dir, "van.toml"), filepath.Join(dir, "van-2.toml")
	r.chosen(ctrlShift(fyne.KeyS))
	r.answer(path, fyne.KeyReturn)
	r.pump("the file", func() bool { return r.bench.Job().Path == path })
	theirs := []byte("title = \"theirs\"\n")
	require.NoError(t, os.WriteFile(path, theirs, 0o644))
	require.NoError(t, os.WriteFile(taken, theirs, 0o644))
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	saved := 0
	r.save(func() { saved++ })
	require.Contains(t, r.question(), "Save over it?")
	tapText(t, r.win.Canvas().Overlays().Top(), "Save elsewhere …")
	r.pump("the question for a file", func() bool { _, ok := r.win.Canvas().Focused().(*pathEntry); return ok })
	require.Equal(t, filepath.Join(dir, "van-3.toml"), r.win.Canvas().Focused().(*pathEntry).Text)
	r.answer("", fyne.KeyReturn)
	r.pump("the file", func() bool { return saved == 1 })
	require.Equal(t, filepath.Join(dir, "van-3.toml"), r.bench.Job().Path)
	for _, p := range []string{path, taken} {
		now, err := os.ReadFile(p)
		require.NoError(t, err)
		require.Equal(t, theirs, now)
	}
	require.False(t, r.bench.Dirty())
}

// Tab into a setting selects it, as in every form: what is typed takes its place. A text that was refused stays to be mended.
func TestTabSelectsWhatIsInAField(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	before, next := r.setting("Gap wanted, mm"), r.setting("Gap off by, mm")
	r.win.Canvas().Focus(before)
	r.win.Canvas().FocusNext()
	require.Same(t, next, r.win.Canvas().Focused())
	require.Equal(t, next.Text, next.SelectedText())
	require.NotEmpty(t, next.Text)
	test.Type(next, "2")
	require.Equal(t, "2", next.Text)
	next.SetText("nonsense")
	r.win.Canvas().FocusPrevious()
	r.win.Canvas().FocusNext()
	require.Empty(t, next.SelectedText(), "what was refused is gone on with")
	// A click puts the cursor where it was made.
	next.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	r.win.Canvas().Focus(before)
	test.TapAt(next, fyne.NewPos(10, 10))
	require.Empty(t, next.SelectedText())
}

// A folder that is named for a job's file is none: nothing is written beside it or, without a name, into it.
func TestAFolderIsNoFileToSaveInto(t *testing.T) {
	r := newRig(t)
	r.openKept()
	dir := filepath.Join(t.TempDir(), "jobs")
	require.NoError(t, os.Mkdir(dir, 0o755))
	for _, typed := range []string{dir, dir + string(filepath.Separator), filepath.Join(dir, "sub") + string(filepath.Separator)} {
		r.chosen(ctrlShift(fyne.KeyS))
		r.answer(typed, fyne.KeyReturn)
		r.pump("what is wrong", func() bool { return r.asking() && strings.Contains(r.question(), "is a folder. Name a file in it.") })
		r.win.Canvas().Overlays().Remove(r.win.Canvas().Overlays().Top())
	}
	left, err := os.ReadDir(filepath.Dir(dir))
	require.NoError(t, err)
	require.Len(t, left, 1)
	left, err = os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left)
}
