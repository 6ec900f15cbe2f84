package bench_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

// A change for which a file is read again that is gone by now is taken back, and nothing else is; what is there again is measured
// on the meshes that were read before.
func TestAFileThatIsGoneTakesBackOneChangeOnly(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	r.bench.Edit("reach", func(i *inspection.Inspection) { i.Surface.Reach = 7 })
	r.settle()
	r.errs["load"] = errBroken
	r.bench.Edit("unit", func(i *inspection.Inspection) { i.Scan.Units = meshio.Inch })
	r.settle()
	require.Len(t, r.faults, 1)
	require.Equal(t, meshio.UnitUnknown, r.bench.Job().Scan.Units)
	require.InDelta(t, 7, r.bench.Job().Surface.Reach, 0)
	require.Equal(t, "reach", r.bench.CanUndo())
	require.Equal(t, "unit", r.bench.CanRedo())
	require.True(t, r.bench.Complete())

	// Another change while the file is read, which is not there either, goes with it.
	r.bench.Edit("unit", func(i *inspection.Inspection) { i.Scan.Units = meshio.Inch })
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "third" })
	r.settle()
	require.Len(t, r.faults, 2)
	require.Equal(t, meshio.UnitUnknown, r.bench.Job().Scan.Units)
	require.Equal(t, "reach", r.bench.CanUndo())
	require.True(t, r.bench.Complete())
}

// Where a file is gone by the time a change is taken back, the change stays, with what was measured.
func TestUndoStaysWhereAFileIsGone(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Edit("reach", func(i *inspection.Inspection) { i.Surface.Reach = 7 })
	r.bench.Edit("unit", func(i *inspection.Inspection) { i.Scan.Units = meshio.Inch })
	r.settle()
	r.errs["load"] = errBroken
	r.bench.Undo()
	r.settle()
	require.Len(t, r.faults, 1)
	require.Equal(t, meshio.Inch, r.bench.Job().Scan.Units)
	require.Equal(t, "unit", r.bench.CanUndo())
	require.Empty(t, r.bench.CanRedo())
	require.True(t, r.bench.Complete())

	// Changed meanwhile, there is no way back: the stage says what is wrong, and is tried again.
	r.bench.Undo()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	r.settle()
	require.Equal(t, "second", r.bench.Job().Title)
	require.ErrorIs(t, r.bench.Err(bench.Parts), errBroken)
	require.Equal(t, bench.Parts, r.bench.Shown())
	delete(r.errs, "load")
	r.bench.Retry()
	r.settle()
	require.True(t, r.bench.Complete())
}
