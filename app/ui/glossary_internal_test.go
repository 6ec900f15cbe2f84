package ui

import (
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/deviation/gapflush"
)

func TestTheWordsAreExplainedFromTheMenuAndByAKey(t *testing.T) {
	r := newRig(t)
	r.open()
	for _, entry := range glossary() {
		term, is, ok := strings.Cut(entry, ": ")
		require.True(t, ok && term != "" && strings.HasSuffix(is, "."), entry)
	}
	said := strings.Join(glossary(), "\n")
	for _, word := range []string{"Gap:", "Flush:", "Seam:", "Station:", "Master:", "Nose:", "Shoulder:", "Hem,", "Taper:", "Nominal,", "Tolerance:", "U, ±:", "undecided", "State,"} {
		require.Contains(t, said, word)
	}
	r.key(&fyne.KeyEvent{Name: fyne.KeyF1})
	top := r.win.Canvas().Overlays().Top()
	require.NotNil(t, top)
	require.Contains(t, r.texts(top), "Words")
	r.key(&fyne.KeyEvent{Name: fyne.KeyF1})
	require.Equal(t, top, r.win.Canvas().Overlays().Top(), "it is not opened over itself")
}

// What is said of the station that was picked must be in sight, however long the card is.
func TestAPickedStationIsInSight(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.paint()
	foot := func() (top, bottom float32) {
		at := fyne.CurrentApp().Driver().AbsolutePositionForObject(r.card.foot)
		return at.Y, at.Y + r.card.foot.Size().Height
	}
	for _, station := range []int{0, 13, 15} {
		r.bench.Select(0, station)
		r.paint()
		require.True(t, r.card.foot.Visible())
		require.Contains(t, r.texts(r.card.foot), "Flush")
		_, bottom := foot()
		require.LessOrEqual(t, bottom, r.win.Canvas().Size().Height)
		require.Positive(t, r.card.foot.Size().Height)
		content := r.card.foot.Objects[1].(*container.Scroll).Content
		require.LessOrEqual(t, content.MinSize().Height, r.card.foot.Objects[1].Size().Height+0.5, "all of it, without scrolling")
		require.LessOrEqual(t, r.card.foot.Size().Height, mostFoot*r.card.content.Size().Height+2)
	}
	r.bench.Show(bench.Surface)
	r.paint()
	require.False(t, r.card.foot.Visible())
}

// A state's advice names the face zone: it is there to be changed.
func TestWhatIsLookedAtAcrossASeamCanBeSet(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	seam := func() gapflush.Seam { return r.bench.Job().Seams[0] }
	field := func(label string) *field {
		for _, i := range r.card.settings.items {
			if i.Text == label {
				for _, f := range r.card.settings.fields {
					if f.content == i.Widget {
						return f
					}
				}
			}
		}
		require.Fail(t, "no field "+label)
		return nil
	}
	type_ := func(label, text string) {
		f := field(label)
		f.SetText(text)
		f.OnSubmitted(text)
		r.idle()
	}
	type_("Face zone, mm", "3; 9")
	require.Equal(t, [2]float64{3, 9}, seam().Face)
	type_("Face zone, mm", "9; 3")
	require.Equal(t, [2]float64{3, 9}, seam().Face)
	require.Contains(t, field("Face zone, mm").said.Text, "Write where the face zone begins and ends")
	field("Face zone, mm").TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	type_("Band along, mm", "6")
	require.Equal(t, 6.0, seam().Band)
	type_("Window across, mm", "25")
	require.Equal(t, 25.0, seam().Window)
	for _, i := range r.card.settings.items {
		if i.Text == "Edge of side B" {
			i.Widget.(*chooser).SetSelected("chamfer")
		}
	}
	require.Equal(t, [2]gapflush.EdgeKind{gapflush.Round, gapflush.Chamfer}, seam().Edges)
}
