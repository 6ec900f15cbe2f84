package ui

import (
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
)

// A scan that was opened alone offers to add a reference, which is then placed on and compared with.
func TestAReferenceIsAdded(t *testing.T) {
	r := newRig(t)
	r.bench.OpenJob(inspection.Default("/jobs/scan.stl", ""))
	r.idle()
	r.bench.Show(bench.Parts)
	button(t, r.card.content, "Add a reference …")
	r.takeReference("/jobs/cad.stl")
	r.idle()
	require.False(t, r.asking(), "nothing was drawn in other axes")
	job := r.bench.Job()
	require.Equal(t, "/jobs/cad.stl", job.Reference.File)
	require.Equal(t, inspection.BestFit, job.Place.Method)
	require.NotNil(t, r.bench.Outcome().Compared)
	require.NotContains(t, r.texts(r.card.content), "Add a reference")
	r.bench.Undo()
	r.idle()
	require.Nil(t, r.bench.Job().Reference)
}

// Where a scan's path is typed, what lies beside it is filled in, once, and stays what the user makes of it.
func TestATypedScanFillsInItsReference(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"afternoon.stl", "cad.stl"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("x"), 0o644))
	}
	r := newRig(t)
	r.askPair()
	scan, ok := r.win.Canvas().Focused().(*pathEntry)
	require.True(t, ok)
	for _, c := range filepath.Join(dir, "afternoon.stl") {
		require.Equal(t, "", r.pairNow()[1])
		scan.TypedRune(c)
	}
	require.Equal(t, filepath.Join(dir, "cad.stl"), r.pairNow()[1])
	require.Equal(t, filepath.Join(dir, "afternoon.stl"), r.pairNow()[0])
	r.strike(fyne.KeyEscape)
}

// The language that is chosen is kept for the next start.
func TestTheLanguageIsKept(t *testing.T) {
	r := newRig(t)
	choose := func(k int) { r.languageMenu().ChildMenu.Items[k].Action() }
	choose(2)
	require.Equal(t, "de", r.app.Preferences().String(prefLanguage))
	require.Contains(t, r.question(), "started the next time")
	r.strike(fyne.KeyReturn)
	choose(0)
	require.Empty(t, r.app.Preferences().String(prefLanguage))
}
