package ui

import (
	"math"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// slotMiddle is where the middle of slotted's gap lies at a height.
func slotMiddle(z float64) float64 { return 200 + 15*math.Sin(math.Pi*z/400) }

// slotted is a sheet of 400 mm in the plane y = 0 seen from the left side, with a
// bowed gap of 6 mm and a flange 20 mm behind it.
func slotted() *mesh.Mesh {
	m := &mesh.Mesh{}
	grid := func(lo, hi, spacing, y float64, gap bool) {
		n := int((hi - lo) / spacing)
		k := int(400 / spacing)
		first := uint32(len(m.Vertices))
		for i := range n + 1 {
			for j := range k + 1 {
				m.Vertices = append(m.Vertices, geom.Vec{X: lo + spacing*float64(i), Y: y, Z: spacing * float64(j)})
			}
		}
		for i := range uint32(n) {
			for j := range uint32(k) {
				a := first + i*uint32(k+1) + j
				b := a + uint32(k+1)
				middle := m.Vertices[a].Lerp(m.Vertices[b+1], 0.5)
				if gap && math.Abs(middle.X-slotMiddle(middle.Z)) < 3 {
					continue
				}
				m.Faces = append(m.Faces, [3]uint32{a, b, b + 1}, [3]uint32{a, b + 1, a + 1})
			}
		}
	}
	grid(0, 400, 2, 0, true)
	grid(150, 250, 10, 20, false)
	return m
}

// newSlotRig shows the slotted sheet on the Seams stage from the left, and draws a seam.
func newSlotRig(t *testing.T) *rig {
	r := newRig(t)
	r.scan = slotted()
	r.open()
	r.bench.Show(bench.Seams)
	r.beginSeam()
	r.pump("the ground", func() bool { return r.seamGround.ground != nil })
	r.view.fit("left")
	r.seen()
	return r
}

// at returns where a point of the part lies in the view, in layout units.
func (r *rig) at(p geom.Vec) fyne.Position {
	x, y, _ := r.view.camera.Project(p, r.view.w, r.view.h)
	s := r.view.scale()
	return fyne.NewPos(float32(x/s), float32(y/s))
}

// clickOn clicks once on a point of the part.
func (r *rig) clickOn(p geom.Vec) {
	r.view.last = click{}
	r.clickView(r.at(p))
}

func (r *rig) press(k fyne.KeyName) { r.view.TypedKey(&fyne.KeyEvent{Name: k}) }

// onSlot is a point in the middle of the gap.
func onSlot(z float64) geom.Vec { return geom.Vec{X: slotMiddle(z), Z: z} }

// laid waits until the path through the clicks is laid.
func (r *rig) laid() {
	r.t.Helper()
	r.pump("the path", func() bool { return r.drawing == nil || r.drawing.laid == len(r.drawing.clicks) })
}

func TestASeamIsDrawnAlongItsGap(t *testing.T) {
	r := newSlotRig(t)
	before := len(r.bench.Job().Seams)
	require.Contains(t, r.texts(r.card.content), "Click on one end of the gap")
	r.clickOn(onSlot(20))
	require.Len(t, r.drawing.clicks, 1, "a click on the gap itself works")
	require.InDelta(t, 0, r.drawing.clicks[0].At.Y, 0.5, "and means the skins beside it, not the flange behind")
	require.Contains(t, r.texts(r.card.content), "further along the gap")
	r.press(fyne.KeyReturn)
	require.NotNil(t, r.drawing, "one point is no seam")
	r.clickOn(onSlot(380).Add(geom.Vec{X: 6}))
	require.Len(t, r.drawing.clicks, 2, "so does one beside it")
	r.laid()
	require.Contains(t, r.texts(r.card.content), "A gap was found along")
	r.press(fyne.KeyReturn)
	r.idle()
	require.Nil(t, r.drawing)
	seams := r.bench.Job().Seams
	require.Len(t, seams, before+1)
	path := seams[before].Path
	require.Greater(t, len(path), 3, "it is bowed")
	require.Less(t, len(path), 36, "and holds fewer points than the 46 that were looked at")
	for _, p := range path[1 : len(path)-1] {
		require.InDelta(t, slotMiddle(p.Z), p.X, 1, "in the middle of the gap")
		require.InDelta(t, 0, p.Y, 0.2, "on the outer skin, not on the flange behind")
		for _, v := range []float64{p.X, p.Y, p.Z} {
			require.InDelta(t, math.Round(v*100), v*100, 1e-6, "kept to 0.01 mm")
		}
	}
	require.False(t, seams[before].Gap.Judged)
	k, _ := r.bench.Selection()
	require.Equal(t, before, k, "the new seam is marked")
	r.bench.Undo()
	r.idle()
	require.Len(t, r.bench.Job().Seams, before)
}

func TestAsManyClicksAsWanted(t *testing.T) {
	r := newSlotRig(t)
	for i, z := range []float64{20, 110, 200, 290} {
		r.clickOn(onSlot(z))
		require.Len(t, r.drawing.clicks, i+1)
	}
	r.press(fyne.KeyBackspace)
	require.Len(t, r.drawing.clicks, 3, "Backspace takes one back")
	r.clickOn(onSlot(380))
	r.laid()
	end := r.at(onSlot(380))
	r.view.now = func() int64 { return 5000 }
	r.view.last = click{at: end, time: 4900}
	r.clickView(end)
	r.idle()
	r.pump("the seam", func() bool { return r.drawing == nil })
	path := r.bench.Job().Seams[2].Path
	require.InDelta(t, 380, path[len(path)-1].Z, 3, "a double click ends at its place")
}

func TestReturnBeforeThePathIsLaidWaitsForIt(t *testing.T) {
	r := newSlotRig(t)
	r.clickOn(onSlot(20))
	r.clickOn(onSlot(300))
	r.press(fyne.KeyReturn)
	require.NotNil(t, r.drawing)
	require.Contains(t, r.texts(r.card.content), "The path is laid")
	r.pump("the seam", func() bool { return r.drawing == nil })
	require.Len(t, r.bench.Job().Seams, 3)
}

func TestEscapeStopsDrawing(t *testing.T) {
	r := newSlotRig(t)
	r.clickOn(onSlot(20))
	r.clickOn(onSlot(100))
	r.press(fyne.KeyBackspace)
	r.press(fyne.KeyBackspace)
	r.press(fyne.KeyBackspace)
	require.Empty(t, r.drawing.clicks)
	r.press(fyne.KeyEscape)
	require.Nil(t, r.drawing)
	require.Len(t, r.bench.Job().Seams, 2)
	r.beginSeam()
	r.bench.Show(bench.Surface)
	require.Nil(t, r.drawing, "another stage ends it too")
}

func TestALineFollowsThePointer(t *testing.T) {
	r := newSlotRig(t)
	move := func(p fyne.Position) {
		r.view.MouseMoved(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: p}})
	}
	move(r.at(onSlot(50)))
	require.False(t, r.view.line.Visible(), "nothing to begin at yet")
	r.clickOn(onSlot(20))
	move(r.at(onSlot(50)))
	require.True(t, r.view.line.Visible())
	require.Equal(t, r.at(onSlot(50)), r.view.line.Position2)
	require.InDelta(t, r.at(onSlot(20)).Y, r.view.line.Position1.Y, 3)
	r.view.MouseOut()
	require.False(t, r.view.line.Visible())
	move(r.at(onSlot(50)))
	r.press(fyne.KeyEscape)
	require.False(t, r.view.line.Visible())
}

func TestAClickBesideThePartIsSaid(t *testing.T) {
	r := newSlotRig(t)
	r.view.last = click{}
	r.clickView(fyne.NewPos(3, 3))
	require.Empty(t, r.drawing.clicks)
	require.Contains(t, r.texts(r.card.content), "nothing of the part where you clicked")
}

func TestWithoutAGapTheSeamRunsStraight(t *testing.T) {
	r := newSlotRig(t)
	from, to := geom.Vec{X: 60, Z: 100}, geom.Vec{X: 60, Z: 300}
	r.clickOn(from)
	r.clickOn(to)
	r.laid()
	require.Contains(t, r.texts(r.card.content), "No gap was found")
	r.press(fyne.KeyReturn)
	r.idle()
	path := r.bench.Job().Seams[2].Path
	pixel := r.view.camera.MMPerPixel(r.view.h)
	require.Len(t, path, 2)
	require.InDelta(t, 0, path[0].Dist(from), 2*pixel)
	require.InDelta(t, 0, path[1].Dist(to), 2*pixel)
}

// A seam that is drawn where the job has one already says so, and is there all the same.
func TestASeamDrawnTwiceIsSaid(t *testing.T) {
	r := newSlotRig(t)
	draw := func() {
		r.clickOn(onSlot(20))
		r.clickOn(onSlot(380))
		r.laid()
		r.press(fyne.KeyReturn)
		r.idle()
	}
	before := len(r.bench.Job().Seams)
	draw()
	require.Len(t, r.bench.Job().Seams, before+1)
	first := r.bench.Job().Seams[before].Name
	if r.asking() { // the job's own seam lies in the gap, too
		r.strike(fyne.KeyEscape)
	}
	r.bench.Edit("the drawn one alone", func(i *inspection.Inspection) {
		i.Seams, i.SeamPictures, i.SeamLaying = i.Seams[before:], i.SeamPictures[before:], nil
	})
	r.idle()
	r.beginSeam()
	r.idle()
	r.seen()
	draw()
	require.Len(t, r.bench.Job().Seams, 2)
	require.Contains(t, r.question(), "runs along “"+first+"”, which the job has already")
}
