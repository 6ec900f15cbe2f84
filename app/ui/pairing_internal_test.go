package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/geom"
)

// newPairRig shows the sheet as scan and as reference, the scan 30 mm beside where it is placed.
func newPairRig(t *testing.T) *rig {
	r := newRig(t)
	r.moved = &geom.Rigid{R: geom.Identity3(), T: geom.Vec{X: 30}}
	r.open()
	r.beginPairs()
	r.bothSeen()
	return r
}

// bothSeen brings both views' pictures up to date.
func (r *rig) bothSeen() {
	r.t.Helper()
	r.paint()
	r.pump("both views", func() bool {
		for _, v := range []*view{r.view, r.other} {
			if v.picture == nil || v.picture.Camera != v.camera || v.picture.Image.Rect.Dx() != v.w {
				return false
			}
		}
		return true
	})
}

func in(v *view, p geom.Vec) fyne.Position {
	x, y, _ := v.camera.Project(p, v.w, v.h)
	s := v.scale()
	return fyne.NewPos(float32(x/s), float32(y/s))
}

func clickIn(v *view, p fyne.Position) {
	e := &desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: p}, Button: desktop.MouseButtonPrimary}
	v.last = click{}
	v.MouseDown(e)
	v.MouseUp(e)
}

// pick picks a point on both, as they are seen: the scan where it is placed.
func (r *rig) pick(p geom.Vec) {
	clickIn(r.view, in(r.view, p))
	clickIn(r.other, in(r.other, p))
}

// Pairs that place nothing are not offered to place by, and the card says so in its headline.
func TestPairsThatPlaceNothingSaySo(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Place)
	r.beginPairs()
	r.bothSeen()
	for _, p := range corners4[:3] {
		r.pick(p)
	}
	clickIn(r.view, in(r.view, corners4[3]))
	clickIn(r.other, in(r.other, corners4[3].Add(geom.Vec{X: 120, Z: -150})))
	require.Error(t, r.pairing.err)
	said := r.texts(r.card.content)
	require.Contains(t, said, "These pairs do not place the scan")
	require.NotContains(t, said, "Place by the pairs, or")
	require.NotContains(t, said, "determine no motion")
}

var corners4 = []geom.Vec{{X: 40, Z: 40}, {X: 360, Z: 50}, {X: 350, Z: 360}, {X: 60, Z: 340}}

func TestPairsArePickedOnBoth(t *testing.T) {
	r := newPairRig(t)
	require.True(t, r.otherSide.Visible())
	require.InDelta(t, r.view.Size().Width, r.other.Size().Width, 3, "side by side")
	require.Contains(t, r.texts(r.card.content), "Pair 1: click a place")
	clickIn(r.view, in(r.view, corners4[0]))
	require.Contains(t, r.texts(r.card.content), "Pair 1: click the same place on the reference")
	clickIn(r.view, in(r.view, corners4[0].Add(geom.Vec{X: 10})))
	require.Len(t, r.pairing.list, 1, "a second click on the same side is a better one")
	clickIn(r.other, in(r.other, corners4[0]))
	r.pick(corners4[1])
	require.False(t, r.pairing.ready(), "two pairs place nothing")
	r.press(fyne.KeyReturn)
	require.NotNil(t, r.pairing)
	clickIn(r.other, in(r.other, corners4[2]))
	require.Contains(t, r.texts(r.card.content), "Pair 3: click the same place on the scan")
	clickIn(r.view, in(r.view, corners4[2]))
	require.True(t, r.pairing.ready())
	require.Contains(t, r.texts(r.card.content), "A fourth pair tells")

	pixel := r.view.camera.MMPerPixel(r.view.h)
	q := r.pairing.pairs()[2]
	require.InDelta(t, 0, q.Reference.Dist(corners4[2]), 2*pixel)
	require.InDelta(t, 0, q.Scan.Dist(corners4[2].Add(geom.Vec{X: -30})), 2*pixel, "in the scan's own frame")

	test.Tap(button(t, r.card.content, "Place by these pairs"))
	r.idle()
	require.Nil(t, r.pairing)
	require.False(t, r.otherSide.Visible())
	require.Equal(t, inspection.Pairs, r.bench.Job().Place.Method)
	require.Len(t, r.bench.Job().Place.Pairs, 3)
	require.Equal(t, "placement by pairs", r.bench.CanUndo())
	r.bench.Undo()
	r.idle()
	require.Equal(t, inspection.BestFit, r.bench.Job().Place.Method)
	require.Empty(t, r.bench.Job().Place.Pairs)
}

func TestAWrongPairIsNamedAndDragged(t *testing.T) {
	r := newPairRig(t)
	for _, p := range append(corners4, geom.Vec{X: 200, Z: 200}, geom.Vec{X: 120, Z: 250}) {
		r.pick(p)
	}
	require.Equal(t, -1, r.pairing.fit.Pairs.Wrong)
	require.Contains(t, r.texts(r.strip.content), "shift along x", "the six uncertainties stand in the strip")
	drag := func(v *view, from, to geom.Vec) {
		a, b := in(v, from), in(v, to)
		v.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: a}, Button: desktop.MouseButtonPrimary})
		v.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: b}, Dragged: fyne.NewDelta(b.X-a.X, b.Y-a.Y)})
		v.MouseUp(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: b}, Button: desktop.MouseButtonPrimary})
	}
	before := r.view.camera
	away := corners4[1].Add(geom.Vec{Z: 25})
	drag(r.other, corners4[1], away)
	require.Equal(t, before, r.view.camera, "what is dragged is the point, not the part")
	require.InDelta(t, 0, r.pairing.list[1].at[onReference].Dist(away), 3*r.other.camera.MMPerPixel(r.other.h))
	require.Equal(t, 1, r.pairing.fit.Pairs.Wrong)
	require.Contains(t, r.texts(r.card.content), "does not fit the others")
	require.Contains(t, r.texts(r.strip.content), "2  does not fit")
	r.press(fyne.KeyDelete)
	require.Len(t, r.pairing.list, 5, "the marked one is taken out")
	require.Less(t, r.pairing.fit.Pairs.RMS, 2*r.view.camera.MMPerPixel(r.view.h))
	r.press(fyne.KeyBackspace)
	require.False(t, r.pairing.list[4].has[onReference], "the last click is taken back")
	r.press(fyne.KeyEscape)
	require.Nil(t, r.pairing)
	require.Equal(t, bench.Place, r.bench.Shown())
	require.Empty(t, r.bench.Job().Place.Pairs, "nothing was changed")
}

func TestBothViewsTurnTogether(t *testing.T) {
	r := newPairRig(t)
	require.Equal(t, r.view.camera, r.other.camera)
	r.other.move(40, 10, false)
	require.Equal(t, r.other.camera, r.view.camera)
	r.turnTogether(false)
	r.other.move(40, 10, false)
	require.NotEqual(t, r.other.camera, r.view.camera)
	r.turnTogether(true)
	require.Equal(t, r.view.camera, r.other.camera)
}

func TestPairsOfTheJobAreGoneOnWith(t *testing.T) {
	r := newPairRig(t)
	for _, p := range corners4 {
		r.pick(p)
	}
	r.press(fyne.KeyReturn)
	r.idle()
	kept := r.bench.Job().Place.Pairs
	r.beginPairs()
	require.Equal(t, kept, r.pairing.pairs())
	r.bench.Show(bench.Surface)
	require.Nil(t, r.pairing, "another stage ends it")
	require.False(t, r.otherSide.Visible())
}
