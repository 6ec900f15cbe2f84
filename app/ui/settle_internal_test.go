package ui

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/verdict"
)

// typed types a text in the place of a setting and leaves it there.
func (r *rig) typed(name, text string) *field {
	r.t.Helper()
	f := r.setting(name)
	f.SetText("")
	r.win.Canvas().Focus(f)
	test.Type(f, text)
	return f
}

// chosen does what a menu item's shortcut does.
func (r *rig) chosen(key fyne.Shortcut) {
	r.t.Helper()
	find := func(m *fyne.Menu) *fyne.MenuItem {
		for _, i := range m.Items {
			if i.Shortcut != nil && i.Shortcut.ShortcutName() == key.ShortcutName() {
				return i
			}
		}
		return nil
	}
	for _, m := range r.win.MainMenu().Items {
		if i := find(m); i != nil {
			i.Action()
			return
		}
	}
	require.FailNow(r.t, "no item with "+key.ShortcutName())
}

// click presses a button or a stage as the mouse does, which leaves the focus in the entry where it was; test.Tap takes it away.
func (r *rig) click(o fyne.Tappable) { o.Tapped(&fyne.PointEvent{}) }

// openKept opens the job with a file that may be written.
func (r *rig) openKept() {
	job := vanJob()
	job.Path = filepath.Join(r.t.TempDir(), "van.toml")
	r.bench.OpenJob(job)
	r.idle()
}

func (r *rig) flush() verdict.Tolerance { return r.bench.Job().Seams[0].Flush.Tolerance }

func TestATypedTextIsTheJobsBeforeAnythingElse(t *testing.T) {
	for what, do := range map[string]func(r *rig){
		"save":            func(r *rig) { r.click(r.header.save) },
		"save key":        func(r *rig) { r.chosen(ctrl(fyne.KeyS)) },
		"save as":         func(r *rig) { r.chosen(ctrlShift(fyne.KeyS)) },
		"evidence":        func(r *rig) { r.click(r.header.write) },
		"evidence key":    func(r *rig) { r.chosen(ctrl(fyne.KeyE)) },
		"quit":            func(r *rig) { r.chosen(ctrl(fyne.KeyQ)) },
		"close":           func(r *rig) { r.askClose() },
		"stage":           func(r *rig) { r.click(r.rows[bench.Surface]) },
		"stage key":       func(r *rig) { r.chosen(ctrl(fyne.Key1)) },
		"next seam":       func(r *rig) { r.chosen(alt(fyne.KeyDown)) },
		"seam picked":     func(r *rig) { r.card.picked(1) },
		"new seam":        func(r *rig) { r.chosen(ctrlShift(fyne.KeyN)) },
		"find seams":      func(r *rig) { r.click(r.bar.find) },
		"move path":       func(r *rig) { r.click(r.bar.path) },
		"compare":         func(r *rig) { r.chosen(ctrlShift(fyne.KeyC)) },
		"another":         func(r *rig) { r.chosen(ctrl(fyne.KeyN)) },
		"station clicked": func(r *rig) { r.mark(1, 2) },
	} {
		r := newRig(t)
		r.openKept()
		r.bench.Show(bench.Seams)
		title := r.win.Title()
		r.typed("Flush off by, mm", "0.3")
		require.NotEqual(t, verdict.Tolerance{Lo: -0.3, Hi: 0.3}, r.flush(), "not handed over yet")
		require.Contains(t, r.header.title.Text, "(changed)", "%s: it would be lost", what)
		require.Contains(t, r.win.Title(), "(changed)")
		require.NotContains(t, title, "(changed)")
		do(r)
		require.Equal(t, verdict.Tolerance{Lo: -0.3, Hi: 0.3}, r.flush(), what)
		require.Equal(t, "flush and its tolerance", r.bench.CanUndo(), what)
		r.idle()
		r.bench.Undo()
		r.idle()
		r.win.Canvas().Unfocus()
		require.Equal(t, vanJob().Seams[0].Flush.Tolerance, r.flush(), "%s: and does not come back by itself", what)
	}
}

func TestATypedTextThatIsRefusedIsSaidAndNothingElseIsDone(t *testing.T) {
	for what, do := range map[string]func(r *rig){
		"save":      func(r *rig) { r.click(r.header.save) },
		"evidence":  func(r *rig) { r.chosen(ctrl(fyne.KeyE)) },
		"quit":      func(r *rig) { r.chosen(ctrl(fyne.KeyQ)) },
		"stage":     func(r *rig) { r.click(r.rows[bench.Surface]) },
		"next seam": func(r *rig) { r.chosen(alt(fyne.KeyDown)) },
		"picker":    func(r *rig) { r.card.picked(1) },
		"delete":    func(r *rig) { r.chosen(ctrlShift(fyne.KeyD)) },
		"find":      func(r *rig) { r.click(r.bar.find) },
	} {
		r := newRig(t)
		r.openKept()
		r.bench.Show(bench.Seams)
		before := r.bench.Job()
		f := r.typed("Flush off by, mm", "abc")
		do(r)
		require.True(t, f.said.Visible(), what)
		require.Same(t, f, r.win.Canvas().Focused(), what)
		require.Equal(t, "abc", f.Text)
		require.Same(t, before, r.bench.Job(), what)
		require.Nil(t, r.win.Canvas().Overlays().Top(), what)
		require.Equal(t, bench.Seams, r.bench.Shown(), what)
		seam, _ := r.bench.Selection()
		require.Zero(t, seam, what)
		_, _, running := r.bench.Running()
		require.False(t, running, what)
	}
}

func TestQuittingAsksForWhatWasTyped(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Surface)
	r.typed("Reach, mm", "12")
	r.chosen(ctrl(fyne.KeyQ))
	require.Contains(t, r.question(), "The job has changes that are not saved")
	require.Equal(t, 12.0, r.bench.Job().Surface.Reach)
}

func TestUndoTakesATypedTextBackForGood(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Surface)
	f := r.typed("Reach, mm", "12")
	require.False(t, r.header.undo.Disabled())
	r.click(r.header.undo)
	r.idle()
	require.Equal(t, 10.0, r.bench.Job().Surface.Reach)
	require.Equal(t, "10", f.Text)
	r.win.Canvas().Unfocus()
	require.Equal(t, 10.0, r.bench.Job().Surface.Reach)
	r.click(r.header.redo)
	r.idle()
	require.Equal(t, 12.0, r.bench.Job().Surface.Reach)

	f = r.typed("Reach, mm", "far")
	r.click(r.header.undo)
	require.Equal(t, "12", f.Text, "what is refused was the last thing done")
	require.Equal(t, 12.0, r.bench.Job().Surface.Reach)
}

func TestTheKeyForUndoTakesTypingBackWhileTyping(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Surface)
	r.typeInto("Reach, mm", "12")
	f := r.setting("Tolerance, mm")
	r.win.Canvas().Focus(f)
	before := f.Text
	f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyLeft}) // to go on with what is there
	f.TypedRune('9')                               // the test driver's typing would give it the focus anew
	r.chosen(&fyne.ShortcutUndo{})
	require.Equal(t, before, f.Text)
	require.Equal(t, 12.0, r.bench.Job().Surface.Reach, "the job is as it was")
	r.chosen(&fyne.ShortcutRedo{})
	require.NotEqual(t, before, f.Text)
	r.chosen(&fyne.ShortcutUndo{})
	r.chosen(&fyne.ShortcutUndo{})
	r.idle()
	require.Equal(t, 10.0, r.bench.Job().Surface.Reach, "nothing typed is left: the job's turn")

	r.chosen(ctrl(fyne.KeyN)) // a question with an entry
	e := r.win.Canvas().Focused().(*pathEntry)
	test.Type(e, "abc")
	r.chosen(&fyne.ShortcutUndo{})
	require.Empty(t, e.Text)
	require.Equal(t, 10.0, r.bench.Job().Surface.Reach)
	r.chosen(&fyne.ShortcutRedo{})
	require.Equal(t, "abc", e.Text)
}

func TestEvidenceWaitsForWhatWasTyped(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Seams)
	r.typed("Flush off by, mm", "0.3")
	r.click(r.header.write)
	r.idle()
	require.Contains(t, r.question(), "Write evidence")
	require.Equal(t, verdict.Tolerance{Lo: -0.3, Hi: 0.3}, r.bench.Results()[0].Seam.Flush.Tolerance)
}

func TestTypingSurvivesTheSettingsBeingBuiltAnew(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Seams)
	f := r.typed("Flush off by, mm", "0.3")
	r.repaint() // another theme
	again := r.setting("Flush off by, mm")
	require.NotSame(t, f, again)
	require.Equal(t, "0.3", again.Text)
	require.Same(t, again, r.win.Canvas().Focused())
	f.FocusLost()
	require.Equal(t, vanJob().Seams[0].Flush.Tolerance, r.flush(), "what has gone takes nothing over")
	r.typed("Name", "hood to wing")
	require.True(t, r.settle())
	r.idle()
	require.Equal(t, "hood to wing", r.bench.Job().Seams[0].Name)
	require.Equal(t, verdict.Tolerance{Lo: -0.3, Hi: 0.3}, r.flush())
}

func TestAStaleFieldDoesNotChangeAnotherJob(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Parts)
	r.typed("Title", "mine")
	other := vanJob()
	other.Scan.File, other.Title = "/jobs/other.stl", "theirs"
	r.bench.OpenJob(other)
	r.idle()
	r.question()
	tapText(t, r.win.Canvas().Overlays().Top(), "Do not save")
	r.idle()
	r.win.Canvas().Unfocus()
	require.True(t, r.settle())
	require.Equal(t, "theirs", r.bench.Job().Title)
}

func TestShortcutsDoNotActBehindAQuestion(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Seams)
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	before := r.bench.Job()
	r.chosen(ctrl(fyne.KeySlash))
	require.Contains(t, r.question(), "turn the part")
	open := len(r.win.Canvas().Overlays().List())
	for _, key := range []fyne.Shortcut{ctrl(fyne.KeyS), ctrlShift(fyne.KeyS), ctrl(fyne.KeyE), ctrl(fyne.KeyN), ctrl(fyne.KeyO), ctrl(fyne.KeyQ), ctrl(fyne.Key1), ctrlShift(fyne.KeyD), ctrlShift(fyne.KeyF), alt(fyne.KeyDown), &fyne.ShortcutUndo{}, ctrl(fyne.KeySlash)} {
		r.chosen(key)
		require.Same(t, before, r.bench.Job(), key.ShortcutName())
		require.Equal(t, bench.Seams, r.bench.Shown(), key.ShortcutName())
		require.Len(t, r.win.Canvas().Overlays().List(), open, key.ShortcutName())
	}
}

// answer types a path into the entry of a question in the place of what is there, and presses a key.
func (r *rig) answer(path string, key fyne.KeyName) {
	r.t.Helper()
	e, ok := r.win.Canvas().Focused().(*pathEntry)
	require.True(r.t, ok, "an entry has the focus")
	if path != "" {
		e.SetText(path)
	}
	e.TypedKey(&fyne.KeyEvent{Name: key})
}

func TestReturnOpensAndEscapeCloses(t *testing.T) {
	r := newRig(t)
	r.chosen(ctrl(fyne.KeyN))
	r.answer("", fyne.KeyReturn)
	require.NotNil(t, r.win.Canvas().Overlays().Top(), "a scan is needed")
	r.answer("/jobs/scan.stl", fyne.KeyReturn)
	r.idle()
	require.Nil(t, r.win.Canvas().Overlays().Top())
	require.Equal(t, "/jobs/scan.stl", r.bench.Job().Scan.File)

	r.chosen(ctrlShift(fyne.KeyS))
	require.Contains(t, r.question(), "Save the job as")
	r.answer("", fyne.KeyEscape)
	require.Nil(t, r.win.Canvas().Overlays().Top())
}

func TestSaveAsAsksForAFile(t *testing.T) {
	r := newRig(t)
	r.openKept()
	dir := t.TempDir()
	r.chosen(ctrlShift(fyne.KeyS))
	r.answer(filepath.Join(dir, "mine"), fyne.KeyReturn)
	path := filepath.Join(dir, "mine.toml")
	r.pump("the file", func() bool { return r.bench.Job().Path == path })
	require.FileExists(t, path)

	other := filepath.Join(dir, "other.toml")
	require.NoError(t, os.WriteFile(other, []byte("title = \"other\"\n"), 0o644))
	r.chosen(ctrlShift(fyne.KeyS))
	r.answer(other, fyne.KeyReturn)
	require.Contains(t, r.question(), "other.toml is there already")
	tapText(t, r.win.Canvas().Overlays().Top(), "Other file")
	require.Contains(t, r.question(), "Save the job as")
	r.answer("", fyne.KeyReturn)
	require.Contains(t, r.question(), "other.toml is there already")
	tapText(t, r.win.Canvas().Overlays().Top(), "Replace")
	r.pump("the file", func() bool { return r.bench.Job().Path == other })

	r.chosen(ctrlShift(fyne.KeyS))
	r.answer(dir+".toml/none", fyne.KeyReturn)
	require.Contains(t, r.question(), "Nothing is lost")
}

func TestAnotherJobIsAskedAboutOnceItCouldBeRead(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	before := r.bench.Job()
	r.mu.Lock()
	r.loadErr = errors.New("meshio: scan.stl: broken at byte 84")
	r.mu.Unlock()
	r.chosen(ctrl(fyne.KeyN))
	r.answer("/jobs/notes.txt", fyne.KeyReturn)
	r.idle()
	require.Contains(t, r.question(), "broken at byte 84", "and nothing about changes")
	tapText(t, r.win.Canvas().Overlays().Top(), "Try again")
	require.Contains(t, r.question(), "Open scan and reference")
	require.Equal(t, "/jobs/notes.txt", r.win.Canvas().Focused().(*pathEntry).Text)
	r.mu.Lock()
	r.loadErr = nil
	r.mu.Unlock()
	r.answer("", fyne.KeyReturn)
	r.idle()
	require.Same(t, before, r.bench.Job())
	require.Contains(t, r.question(), "not saved")
	tapText(t, r.win.Canvas().Overlays().Top(), "Stay")
	require.Same(t, before, r.bench.Job())
	r.openPair("/jobs/scan.stl", "")
	r.idle()
	r.question()
	tapText(t, r.win.Canvas().Overlays().Top(), "Do not save")
	r.idle()
	require.Equal(t, "/jobs/scan.stl", r.bench.Job().Scan.File)
	require.True(t, r.bench.Complete(), "it is worked through")
}

func TestAFileThatMovedIsAskedForAndFound(t *testing.T) {
	dir := t.TempDir()
	job := vanJob()
	job.Path, job.Scan.File, job.Reference.File = filepath.Join(dir, "van.toml"), filepath.Join(dir, "scan.stl"), filepath.Join(dir, "ref.stl")
	there := filepath.Join(dir, "elsewhere")
	require.NoError(t, os.Mkdir(there, 0o755))
	for _, name := range []string{"moved.stl", "ref.stl"} {
		require.NoError(t, os.WriteFile(filepath.Join(there, name), nil, 0o644))
	}
	r := newRig(t)
	err := &bench.LoadError{Job: job, Err: &app.MissingError{Inspection: job.Path, File: job.Scan.File, Err: fs.ErrNotExist}}
	r.failed(err)
	said := r.question()
	require.Contains(t, said, "Where is scan.stl?")
	require.Contains(t, said, "Browse")
	_, find := r.lost(err)
	require.NotNil(t, find)
	moved := found(job, job.Scan.File, filepath.Join(there, "moved.stl"))
	require.Equal(t, filepath.Join(there, "moved.stl"), moved.Scan.File)
	require.Equal(t, filepath.Join(there, "ref.stl"), moved.Reference.File, "it has moved along")
	r.bench.OpenMoved(job, moved)
	r.idle()
	require.True(t, r.bench.Dirty(), "the file says otherwise")
	require.Equal(t, moved.Scan.File, r.bench.Job().Scan.File)

	title, find := r.lost(&inspection.OpenError{Path: filepath.Join(dir, "none.toml"), Err: fs.ErrNotExist})
	require.Equal(t, "Where is none.toml?", title)
	require.NotNil(t, find)
	require.Equal(t, dir, nearest(filepath.Join(dir, "a", "b", "c.stl")))
}

func TestUndoShowsWhatItChanged(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.typeInto("Reach, mm", "12")
	r.bench.Show(bench.Seams)
	r.card.picked(1)
	r.typeInto("Flush off by, mm", "0.3")
	r.card.picked(0)
	r.bench.Show(bench.Place)
	test.Tap(r.header.undo)
	r.idle()
	seam, _ := r.bench.Selection()
	require.Equal(t, bench.Seams, r.bench.Shown())
	require.Equal(t, 1, seam)
	require.Contains(t, r.header.files.Text, "Undone: flush and its tolerance")
	test.Tap(r.header.undo)
	r.idle()
	require.Equal(t, bench.Surface, r.bench.Shown())
	require.Contains(t, r.header.files.Text, "Undone: reach")
	r.bench.Show(bench.Parts)
	r.chosen(&fyne.ShortcutRedo{})
	r.idle()
	require.Equal(t, bench.Surface, r.bench.Shown())
	require.Contains(t, r.header.files.Text, "Done again: reach")
	r.bench.Edit("method", func(i *inspection.Inspection) { i.Place.Method = "as-is" })
	r.idle()
	require.NotContains(t, r.header.files.Text, "Done again", "until the next change")
}
