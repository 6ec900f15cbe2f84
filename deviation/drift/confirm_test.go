package drift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// A shape that is said to be there by what hangs together, and without which no more is left of the deviation as a whole, is not seen; what
// is told of it must not deny that: its U reaches nothing.
func TestAShapeTheWholeDoesNotHaveIsKnownToItsOwnSize(t *testing.T) {
	r := &Result{Frame: Frame{Axes: [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Size: [3]float64{1500, 600, 100}}}
	var cells []cell
	for i := range 30 {
		for k := range 12 {
			at := geom.Vec{X: 50*float64(i) - 725, Y: 50*float64(k) - 275}
			cells = append(cells, cell{at: at, area: 2500, j: r.Frame.rowAt(at, geom.Vec{Z: 1}), d: 0.05 * math.Sin(float64(i*7+k*3))})
		}
	}
	var x row
	x[Twist] = 1.1
	r.Terms[Twist] = Term{Kind: Twist, Held: true, Seen: true, Size: verdict.Value{V: 1.1, U: 0.1, OK: true}, Value: verdict.Value{V: 0.21, U: 0.019, OK: true}}
	r.confirm(cells, &x)
	got := r.Terms[Twist]
	require.False(t, got.Seen)
	require.GreaterOrEqual(t, got.Size.U, 1.1)
	require.GreaterOrEqual(t, got.Value.U, 0.21)
}
