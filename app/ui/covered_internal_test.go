package ui

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
)

// What floats over the view is known to the labels drawn there, in the pixels of the picture, and follows what is opened and closed.
func TestLabelsKnowWhatFloatsOverTheView(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.idle()
	r.bench.Select(0, 3)
	r.paint()
	require.True(t, r.insetB.Visible())
	covers := func() bool {
		at, size := r.insetB.Position(), r.insetB.Size()
		for _, c := range r.coveredIn(2) {
			if c.Min.X == int(2*at.X) && c.Min.Y == int(2*at.Y) && c.Dx() == int(2*size.Width) && c.Dy() == int(2*size.Height) {
				return true
			}
		}
		return false
	}
	require.True(t, covers())
	require.NotEmpty(t, r.coveredIn(1), "the buttons")
	r.toggleInset()
	require.False(t, covers())
}
