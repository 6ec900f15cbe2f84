package ui

import (
	"image"
	"slices"
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
		want := [4]float32{2 * at.X, 2 * at.Y, 2 * (at.X + size.Width), 2 * (at.Y + size.Height)}
		return slices.ContainsFunc(r.coveredIn(2), func(c image.Rectangle) bool {
			for k, v := range [4]int{c.Min.X, c.Min.Y, c.Max.X, c.Max.Y} {
				if d := float32(v) - want[k]; d > 1 || d < -1 {
					return false
				}
			}
			return true
		})
	}
	require.True(t, covers())
	require.NotEmpty(t, r.coveredIn(1), "the buttons")
	r.toggleInset()
	require.False(t, covers())
}
