package ui

import (
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
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
