package app_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/drift"
	"shutline/deviation/pieces"
	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
)

// What is left of the drift once pieces are joined is no error after the whole path: of pieces, what each has lost on its own way counts,
// and where that does not show there is no plan.
func TestPiecesPlanByTheirOwnPaths(t *testing.T) {
	const path, lost = 60_000.0, 0.2
	i := &inspection.Inspection{Plan: &inspection.Plan{Wanted: 1, Path: path}, Pieces: make([]inspection.PieceFile, 6)}
	left := &drift.Result{OK: true}
	left.Frame.Size = [3]float64{4000, 1700, 1400}
	left.Terms[drift.ScaleLong] = drift.Term{Held: true, Seen: true, Size: verdict.Value{V: 0.26, U: 0.1, OK: true}}
	parts := &app.Parts{Mirrored: bodywork.Plane(4000, 1700, 100)}
	compared := &app.Compared{Drift: left}

	one := app.PlanNext(i, parts, compared)
	require.InDelta(t, 0.26, one.Growth.Error, 1e-9)
	require.InDelta(t, path, one.Growth.Path, 1e-9)

	parts.Joined = &app.PiecesJoined{Result: &pieces.Result{Deformed: lost}}
	six := app.PlanNext(i, parts, compared)
	require.InDelta(t, path/6, six.Growth.Path, 1e-9)
	require.InDelta(t, 0.3464, six.Growth.Error, 1e-4) // three components of 0.2 mm
	require.Greater(t, six.Growth.At(path), 2.0, "in one go six times the way drifts six times as far")

	parts.Joined.Result.Deformed = 0
	none := app.PlanNext(i, parts, compared)
	require.False(t, none.OK)
	require.Contains(t, none.Why, "no plan")
}
