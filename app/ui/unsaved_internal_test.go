package ui

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
)

// leftBehind writes what a program that was killed leaves.
func leftBehind(t *testing.T) (dir, file string) {
	dir = t.TempDir()
	file = filepath.Join(dir, "wing.unsaved.toml")
	require.NoError(t, os.WriteFile(file, []byte("title = \"Wing\"\n"), 0o644))
	note := `{"job":"` + filepath.Join(dir, "wing.toml") + `","file":"` + file + `","title":"Wing","when":"2026-03-01T14:32:00Z"}`
	require.NoError(t, os.WriteFile(filepath.Join(dir, "note-1.json"), []byte(note), 0o600))
	return dir, file
}

func (r *rig) question() string {
	r.t.Helper()
	r.pump("a question", func() bool { return r.win.Canvas().Overlays().Top() != nil })
	return r.texts(r.win.Canvas().Overlays().Top())
}

func TestUnsavedChangesAreOfferedBack(t *testing.T) {
	dir, file := leftBehind(t)
	r := newRig(t)
	r.opt.StateDir = dir
	r.bench.KeepUnsaved(dir)
	r.lookForUnsaved()
	said := r.question()
	require.Contains(t, said, "Wing (wing.toml) has changes that were not saved")
	require.Contains(t, said, "2026-03-01 14:32:00")
	tapText(t, r.win.Canvas().Overlays().Top(), "Take them back")
	r.idle()
	require.Equal(t, filepath.Join(dir, "wing.toml"), r.bench.Job().Path)
	require.True(t, r.bench.Dirty())
	require.Contains(t, r.header.title.Text, "(changed)")
	r.bench.Close()
	require.NoFileExists(t, file)
}

func TestUnsavedChangesCanBeLeftOrThrownAway(t *testing.T) {
	dir, file := leftBehind(t)
	r := newRig(t)
	r.opt.StateDir = dir
	r.lookForUnsaved()
	r.question()
	tapText(t, r.win.Canvas().Overlays().Top(), "Later")
	require.Nil(t, r.win.Canvas().Overlays().Top())
	require.FileExists(t, file)
	r.lookForUnsaved()
	r.question()
	tapText(t, r.win.Canvas().Overlays().Top(), "Throw away")
	require.Eventually(t, func() bool { _, err := os.Stat(file); return err != nil }, 10*time.Second, time.Millisecond)
	require.Nil(t, r.bench.Job())
}

func TestASwappedScanIsSaidOnce(t *testing.T) {
	r := newRig(t)
	job := vanJob()
	job.Scan.SHA256 = "aa"
	r.bench.OpenJob(job)
	r.idle()
	require.Contains(t, r.question(), "Scan: scan.stl is another file than the one this job was saved with")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "other" })
	r.idle()
	require.Nil(t, r.win.Canvas().Overlays().Top(), "once is enough")
}

func TestAFileThatCannotBeOpenedCanBeTriedAgain(t *testing.T) {
	r := newRig(t)
	r.mu.Lock()
	r.loadErr = errors.New("meshio: scan.stl: broken at byte 84")
	r.mu.Unlock()
	require.NoError(t, r.Open([]string{"/jobs/scan.stl", "/jobs/ref.stl"}))
	r.idle()
	require.Contains(t, r.question(), "broken at byte 84")
	require.Nil(t, r.bench.Job())
	r.mu.Lock()
	r.loadErr = nil // it was mended
	r.mu.Unlock()
	tapText(t, r.win.Canvas().Overlays().Top(), "Try again")
	r.question()
	r.answer("", fyne.KeyReturn)
	r.idle()
	require.NotNil(t, r.bench.Job())
}

func TestWhatCannotBeSavedIsSaid(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	r.saveTo(filepath.Join(t.TempDir(), "no such folder", "kept.toml"), nil)
	require.Contains(t, r.question(), "Nothing is lost: the job stays on the bench")
	require.True(t, r.bench.Dirty())
}

func TestSavingOverSomebodyElsesChangesIsAsked(t *testing.T) {
	r := newRig(t)
	r.open()
	path := filepath.Join(t.TempDir(), "kept.toml")
	saved := 0
	r.saveTo(path, func() { saved++ })
	r.pump("the file", func() bool { return saved == 1 })
	r.idle()
	require.NoError(t, os.WriteFile(path, []byte("title = \"by hand\"\n"), 0o644))
	r.saveTo(path, func() { saved++ })
	require.Contains(t, r.question(), "was changed by somebody else")
	tapText(t, r.win.Canvas().Overlays().Top(), "Save over it")
	r.pump("the file", func() bool { return saved == 2 })
}
