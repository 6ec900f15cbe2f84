package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/geom"
)

// newBendRig shows the handles of the first seam's path on the sheet.
func newBendRig(t *testing.T) *rig {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.bend()
	r.view.fit("left")
	r.seen()
	return r
}

func (r *rig) dragView(from, to geom.Vec) {
	a, b := r.at(from), r.at(to)
	r.view.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: a}, Button: desktop.MouseButtonPrimary})
	r.view.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: b}, Dragged: fyne.NewDelta(b.X-a.X, b.Y-a.Y)})
	r.view.MouseUp(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: b}, Button: desktop.MouseButtonPrimary})
}

func TestAHandleIsDraggedOnTheSkin(t *testing.T) {
	r := newBendRig(t)
	require.Contains(t, r.texts(r.card.content), "The path of wing to door has 2 handles")
	before := r.bench.Job().Seams[0].Path
	to := geom.Vec{X: 150, Z: 380}
	r.dragView(before[1], to)
	r.idle()
	path := r.bench.Job().Seams[0].Path
	require.InDelta(t, 0, path[1].Dist(to), 2*r.view.camera.MMPerPixel(r.view.h))
	require.Equal(t, before[0], path[0])
	require.Equal(t, path, r.bench.Results()[0].Seam.Path, "it was measured again")
	require.NotNil(t, r.bending, "the handles stay")

	r.seen()
	r.clickOn(path[0].Lerp(path[1], 0.5))
	r.idle()
	require.Len(t, r.bench.Job().Seams[0].Path, 3, "a click on the path adds a handle")
	r.press(fyne.KeyBackspace)
	r.idle()
	require.Equal(t, path, r.bench.Job().Seams[0].Path, "and Backspace takes it out")
	require.Equal(t, []int{0, 1}, r.bending.handles)
	r.bench.Undo()
	r.bench.Undo()
	r.bench.Undo()
	r.idle()
	require.Equal(t, before, r.bench.Job().Seams[0].Path)
	require.Equal(t, before, r.bending.path, "the handles follow")
	camera := r.view.camera
	r.dragView(geom.Vec{X: 60, Z: 200}, geom.Vec{X: 90, Z: 200})
	require.NotEqual(t, camera, r.view.camera, "beside the handles a drag turns the part")
	r.press(fyne.KeyEscape)
	require.Nil(t, r.bending)
}

// A bowed path of many points gets few handles, and keeps its bow between those that are not moved.
func TestAPathFollowsItsHandle(t *testing.T) {
	b := &bending{chosen: -1}
	for z := 0.0; z <= 400; z += 5 {
		b.path = append(b.path, geom.Vec{X: slotMiddle(z), Z: z})
	}
	b.handles = handlesOf(b.path)
	require.LessOrEqual(t, len(b.handles), mostHandles)
	require.Equal(t, []int{0, len(b.path) - 1}, []int{b.handles[0], b.handles[len(b.handles)-1]})
	b.held, b.chosen = append([]geom.Vec{}, b.path...), 1
	by := geom.Vec{X: 3, Y: 1}
	b.moveTo(b.held[b.handles[1]].Add(by))
	for k, p := range b.path {
		moved := p.Sub(b.held[k])
		share := moved.Dot(by) / by.Norm2()
		require.InDelta(t, 0, moved.Dist(by.Scale(share)), 1e-9, "all moves one way")
		switch {
		case k == b.handles[1]:
			require.InDelta(t, 1, share, 1e-9)
		case k <= b.handles[0] || k >= b.handles[2]:
			require.InDelta(t, 0, share, 1e-9)
		default:
			require.Greater(t, share, 0.0)
			require.Less(t, share, 1.0)
		}
	}
}

func TestAnotherSeamEndsTheHandles(t *testing.T) {
	r := newBendRig(t)
	r.bench.SelectSeam(1)
	require.Nil(t, r.bending)
	r.bend()
	r.bench.Edit("delete", func(i *inspection.Inspection) { i.RemoveSeam(1) })
	r.idle()
	require.Nil(t, r.bending, "and so does deleting it")
}

func TestFoundSeamsAreTakenOrLeft(t *testing.T) {
	r := newRig(t)
	r.found = []app.SeamPath{
		{Seam: "left upright", Path: []geom.Vec{{X: 100}, {X: 100, Z: 400}}, Length: 400, Sure: 0.9, Width: 4.1, HasWidth: true},
		{Seam: "lower along", Path: []geom.Vec{{X: 20, Z: 60}, {X: 380, Z: 60}}, Length: 360, Sure: 0.5},
		{Seam: "a groove", Path: []geom.Vec{{X: 20, Z: 300}, {X: 380, Z: 300}}, Length: 360, Sure: 0.2},
	}
	r.open()
	r.findSeams()
	r.idle()
	r.view.fit("left")
	r.seen()
	said := r.texts(r.card.content)
	require.Contains(t, said, "Shut lines found: 3")
	require.Contains(t, said, "1: left upright, 400 mm long, gap about 4.10 mm, sure")
	require.Contains(t, said, "3: a groove, 360 mm long, doubtful")
	require.Equal(t, []bool{true, true, false}, r.proposed.take, "doubtful ones are not ticked")
	r.clickOn(geom.Vec{X: 300, Z: 60})
	require.Equal(t, []bool{true, false, false}, r.proposed.take, "a click on a line leaves it")
	tapText(t, r.card.content, "Take the ticked ones (1)")
	r.idle()
	seams := r.bench.Job().Seams
	require.Len(t, seams, 3)
	require.Equal(t, "left upright", seams[2].Name)
	require.Equal(t, r.found[0].Path, seams[2].Path)
	k, _ := r.bench.Selection()
	require.Equal(t, 2, k)
	require.Equal(t, "found seams", r.bench.CanUndo())
	r.bench.Undo()
	r.idle()
	require.Len(t, r.bench.Job().Seams, 2)

	r.found = nil
	r.findSeams()
	r.idle()
	require.Contains(t, r.texts(r.card.content), "No further shut line was found")
	r.press(fyne.KeyEscape)
	require.Nil(t, r.proposed)
}

func TestADeletedSeamComesBackWithUndo(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.card.fold.Open(0)
	tapText(t, r.card.content, "Delete this seam")
	r.idle()
	require.Equal(t, "door to quarter", r.bench.Job().Seams[0].Name)
	require.Len(t, r.bench.Results(), 1)
	r.bench.Undo()
	r.idle()
	require.Len(t, r.bench.Job().Seams, 2)
	require.True(t, r.bench.Complete())
}
