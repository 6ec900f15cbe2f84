package ui

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
)

// Evidence names the inspection file by its hash: where no file holds the job as it is, that is said, and saving it is offered; it can
// be written all the same.
func TestEvidenceOfAnUnsavedJobOffersToSaveIt(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Evidence)
	r.idle()
	require.NotContains(t, r.texts(r.card.content), "not saved")
	r.writeEvidence()
	require.NotContains(t, r.question(), "not saved")
	r.strike(fyne.KeyEscape)

	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	require.Contains(t, r.texts(r.card.content), "nobody can check them")
	r.writeEvidence()
	require.Contains(t, r.question(), "nobody can check the evidence")
	tapText(t, r.win.Canvas().Overlays().Top(), "Save the job first")
	r.pump("the question again", func() bool { return !r.bench.Dirty() && r.asking() })
	require.NotContains(t, r.question(), "not saved")
	require.NotContains(t, r.texts(r.card.content), "not saved")
	r.strike(fyne.KeyEscape)

	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 3 })
	r.idle()
	r.writeEvidence()
	dir := filepath.Join(t.TempDir(), "out")
	r.answer(dir, fyne.KeyReturn)
	r.pump("the evidence", func() bool { return r.bench.Written == dir })
}

// Every file that was written is seen in the strip, or can be scrolled to.
func TestTheStripShowsEveryFile(t *testing.T) {
	dir := t.TempDir()
	for k := range 31 {
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("station-%02d.png", k)), []byte("x"), 0o644))
	}
	r := newRig(t)
	r.win.Resize(fyne.NewSize(900, 620))
	r.open()
	r.bench.Show(bench.Evidence)
	r.bench.WriteEvidence(dir, true, func(string, error) {})
	r.idle()
	r.paint()
	var scroll *container.Scroll
	var walk func(fyne.CanvasObject)
	walk = func(o fyne.CanvasObject) {
		switch x := o.(type) {
		case *container.Scroll:
			scroll = x
		case *fyne.Container:
			for _, c := range x.Objects {
				walk(c)
			}
		}
	}
	walk(r.strip.content)
	require.NotNil(t, scroll)
	require.Equal(t, container.ScrollBoth, scroll.Direction)
	require.LessOrEqual(t, scroll.Content.MinSize().Height, scroll.Size().Height)
	require.Contains(t, r.texts(scroll.Content), "bytes")
}
