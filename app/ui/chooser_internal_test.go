package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"
)

// After the machine has slept the toolkit does not know a thing's canvas; a click then opens nothing, and ends nothing.
func TestAChoiceWithoutItsCanvasOpensNothing(t *testing.T) {
	test.NewTempApp(t)
	known := canvasOf
	t.Cleanup(func() { canvasOf = known })
	canvasOf = func(fyne.CanvasObject) fyne.Canvas { return nil }
	c := newChooser([]string{"a", "b"})
	c.SetSelectedIndex(0)
	w := test.NewTempWindow(t, c)
	w.Resize(fyne.NewSize(200, 200))
	c.Tapped(&fyne.PointEvent{})
	c.TypedKey(&fyne.KeyEvent{Name: fyne.KeySpace})
	require.Nil(t, w.Canvas().Overlays().Top())
	canvasOf = known
	c.Tapped(&fyne.PointEvent{})
	require.NotNil(t, w.Canvas().Overlays().Top())
}
