package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"
)

func TestAFoldMakesWhatIsInItWhenItIsOpened(t *testing.T) {
	test.NewTempApp(t)
	made := 0
	fold, item := newFold("more", false, func() fyne.CanvasObject {
		made++
		r := canvas.NewRectangle(nil)
		r.SetMinSize(fyne.NewSize(30, 200))
		return r
	})
	w := test.NewTempWindow(t, fold)
	w.Resize(fyne.NewSize(300, 400))
	closed := fold.MinSize().Height
	require.Zero(t, made)
	fold.Open(0)
	require.Equal(t, 1, made)
	require.True(t, item.Open)
	require.GreaterOrEqual(t, fold.MinSize().Height, closed+200)
	require.GreaterOrEqual(t, item.Detail.(*folded).content.Size().Height, float32(200), "it is laid out")
	fold.Close(0)
	require.Equal(t, closed, fold.MinSize().Height)
	fold.Open(0)
	require.Equal(t, 1, made, "once")

	open, _ := newFold("more", true, func() fyne.CanvasObject { made++; return canvas.NewRectangle(nil) })
	require.True(t, open.Items[0].Detail.Visible())
	require.Equal(t, 2, made)
}
