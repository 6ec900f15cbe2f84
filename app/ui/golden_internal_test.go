package ui

import (
	"errors"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"

	"shutline/app/bench"
)

// These compare how the window's own widgets are laid out and painted with what
// was looked at once. Where one differs, the new markup lies in testdata/failed: look at
// the difference, then move it to its place.

func golden(t *testing.T, name string, size fyne.Size, make func() fyne.CanvasObject) {
	t.Helper()
	a := test.NewTempApp(t)
	a.Settings().SetTheme(&Look{Mode: "light"})
	w := test.NewTempWindow(t, make())
	w.SetPadded(false)
	w.Resize(size)
	test.AssertRendersToMarkup(t, name+".xml", w.Canvas())
}

func TestGoldenStageRows(t *testing.T) {
	golden(t, "stagerows", fyne.NewSize(railWidth, 9*rowHeight), func() fyne.CanvasObject {
		list := container.NewVBox()
		for lamp := bench.NotDone; lamp <= bench.Failed; lamp++ {
			r := newStageRow(lamp.String(), func() {})
			r.set(lamp, "one line of state", lamp == bench.Good)
			list.Add(r)
		}
		return list
	})
}

func TestGoldenSentence(t *testing.T) {
	golden(t, "sentence", fyne.NewSize(cardWidth, 120), func() fyne.CanvasObject {
		s := newSentence("The wing stands up to 1.60 ± 0.05 mm proud of the door at stations 13 to 16 (312.5 to 387.5 mm along the seam).", func() {})
		s.FocusGained()
		return s
	})
}

func TestGoldenField(t *testing.T) {
	golden(t, "field", fyne.NewSize(cardWidth, 140), func() fyne.CanvasObject {
		f := newField(func() string { return "4.5" }, func(string) error { return errors.New("This is no number.") })
		f.SetText("four")
		f.hand()
		return f.content
	})
}

func TestGoldenDoor(t *testing.T) {
	golden(t, "door", fyne.NewSize(560, 88), func() fyne.CanvasObject {
		return newDoor("Open a saved job", "An inspection file (.toml) with its meshes, tolerances and seams.", "job", func() {})
	})
}
