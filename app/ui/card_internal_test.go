package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
)

// BenchmarkStages walks through the stages, for looking at what holds the drawing thread.
func BenchmarkStages(b *testing.B) {
	r := newRig(b)
	r.open()
	r.paint()
	for b.Loop() {
		for _, s := range bench.Stages() {
			r.bench.Show(s)
			r.win.Canvas().Content().Refresh()
		}
	}
}

// What was found is what the card is for: on a screen of 720 two sentences of three lines are seen above the marked station.
func TestTheCardKeepsRoomForWhatWasFound(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	for _, s := range []fyne.Size{fyne.NewSize(1280, 720-28), fyne.NewSize(1280, 800-28)} { // beside the menu, which the test driver has not
		r.win.Resize(s)
		r.paint()
		r.card.lay()
		d := fyne.CurrentApp().Driver()
		from := d.AbsolutePositionForObject(r.card.found.Objects[0]).Y + r.card.found.Objects[0].Size().Height
		until := d.AbsolutePositionForObject(r.card.foot).Y
		require.True(t, r.card.foot.Visible())
		require.GreaterOrEqual(t, until-from, 6*lineHeight(sizeText, false), "%v", s)
		require.GreaterOrEqual(t, r.card.foot.Size().Height, float32(leastFoot), "%v: and the station is read", s)
		require.GreaterOrEqual(t, r.view.Size().Height, float32(430), "%v", s)
	}
}
