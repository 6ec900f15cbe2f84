package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// crate is a closed box, outside outward.
func crate(size geom.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	for k := range 8 {
		m.Vertices = append(m.Vertices, geom.Vec{X: size.X * float64(k&1), Y: size.Y * float64(k>>1&1), Z: size.Z * float64(k>>2&1)})
	}
	for _, q := range [][4]uint32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Faces = append(m.Faces, [3]uint32{q[0], q[1], q[2]}, [3]uint32{q[0], q[2], q[3]})
	}
	return m
}

// A scan lies in its file any way up. Once it is placed, it is shown as the reference stands.
func TestAPlacedScanIsShownUpright(t *testing.T) {
	sheet := sheet() // y = 0, its long sides along x and z; seen from the left
	turn := geom.Rotation(geom.Vec{X: 0.3, Y: 0.8, Z: -0.5}.Unit(), 2.5)
	turn.T = geom.Vec{X: 70, Y: -30, Z: 500}
	scan := sheet.Moved(turn.Inverse())
	reference := broadest(sheet)
	l := uprightBy(reference, sheet.Bounds(), turn, scan)
	want, _ := shade.ViewOf(reference.name, sheet.Bounds(), 1)
	require.Less(t, turn.ApplyDir(l.camera.Up).Dist(want.Up), 1e-12)
	require.Less(t, turn.ApplyDir(l.camera.Right).Dist(want.Right), 1e-12)
	require.Less(t, turn.Apply(l.camera.Target).Dist(geom.Vec{X: 200, Z: 200}), 1e-9, "its middle")
	require.InDelta(t, 400, l.wide, 1e-9)
}

func TestWhatIsNotPlacedIsToldOverThePart(t *testing.T) {
	r := newRig(t)
	r.slow = make(chan struct{})
	r.bench.Open("van.toml")
	r.pump("the part", func() bool { return r.scene.raw != nil })
	require.True(t, r.scanTag.Visible())
	require.Contains(t, r.scanName.Text, "as the scanner had it")
	close(r.slow)
	r.idle()
	require.False(t, r.scanTag.Visible())
}

func TestAPartIsFirstSeenWhereItIsBroadest(t *testing.T) {
	flat := bodywork.Plane(400, 200, 20) // looks along +z
	require.Equal(t, "top", broadest(flat).name)
	require.Equal(t, "left", broadest(sheet()).name)
	below := flat.Moved(geom.Rotation(geom.Vec{X: 1}, 3.141592653589793))
	require.Equal(t, "bottom", broadest(below).name, "outside toward the viewer")
	require.Equal(t, "three-quarter", broadest(crate(geom.Vec{X: 100, Y: 100, Z: 100})).name, "three sides are more than one")

	askew := geom.Rotation(geom.Vec{X: 0.5, Y: 0.7, Z: 0.3}.Unit(), 0.8)
	first := broadest(flat.Moved(askew))
	require.Empty(t, first.name, "no named view shows it well")
	require.InDelta(t, 1, first.camera.Back().Dot(askew.ApplyDir(geom.Vec{Z: 1})), 1e-9, "so it is looked at squarely")
	long := askew.ApplyDir(geom.Vec{X: 1})
	require.InDelta(t, 1, max(first.camera.Right.Dot(long), -first.camera.Right.Dot(long)), 1e-4, "and lies level")

	points := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 100, Y: 80, Z: 5}}}
	require.Equal(t, "top", broadest(points).name)
}

func TestEveryStageBeginsInTheFirstView(t *testing.T) {
	r := newRig(t)
	r.open()
	r.seen()
	outside := geom.Vec{Y: -1}
	for _, s := range []bench.Stage{bench.Parts, bench.Seams} {
		r.bench.Show(s)
		r.seen()
		require.InDelta(t, 1, r.view.camera.Back().Dot(outside), 1e-9, "stage %v", s)
	}
	r.key(&fyne.KeyEvent{Name: fyne.KeyT})
	r.bench.Show(bench.Surface)
	require.Equal(t, "top", r.view.name, "a view that was chosen stays")
}

func TestAFindingIsLookedAtFromOutside(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	for _, view := range []string{"top", "right", "front", "three-quarter"} {
		r.view.fit(view)
		r.lookAt()
		require.InDelta(t, 1, r.view.camera.Back().Dot(r.bench.Station().U), 1e-9, "from %s", view)
		require.InDelta(t, 1, r.view.camera.Up.Z, 1e-9, "upright")
		require.Equal(t, r.bench.Station().P, r.view.camera.Target)
		r.view.fit(view)
		r.lookAtSeam()
		require.InDelta(t, 1, r.view.camera.Back().Dot(r.bench.Station().U), 1e-9)
	}
	placed := r.bench.Outcome().Placed
	placed.Normals = placed.Mesh.VertexNormals()
	r.view.fit("top")
	r.lookAtSpot(geom.Vec{X: 120, Z: 130})
	r.pump("the spot", func() bool { return r.view.camera.Target == geom.Vec{X: 120, Z: 130} })
	require.InDelta(t, -1, r.view.camera.Back().Y, 1e-9, "a spot of the surface too")
	require.Equal(t, geom.Vec{X: 120, Z: 130}, r.view.camera.Target)

	// A roof has no upright: the view keeps its own.
	c := facing(geom.Vec{Z: 1}, shade.Camera{Right: geom.Vec{Y: 1}, Up: geom.Vec{X: -1}, Height: 7})
	require.InDelta(t, -1, c.Up.X, 1e-12)
	require.Equal(t, geom.Vec{Z: 1}, c.Back())
}

func TestAScanAloneHasNothingToPlace(t *testing.T) {
	r := newRig(t)
	require.NoError(t, r.Open([]string{"/jobs/scan.stl"}))
	r.idle()
	r.seen()
	require.Equal(t, "first", r.view.name)
	require.InDelta(t, -1, r.view.camera.Back().Y, 1e-9, "it is seen from outside")
	require.Equal(t, bench.NotDone, r.bench.Lamp(bench.Place))
	r.bench.Show(bench.Place)
	seen := r.texts(r.win.Content())
	require.Contains(t, seen, "No reference: nothing to place")
	require.NotContains(t, seen, "not held")
	require.Nil(t, r.card.fold, "and nothing to set")
	r.bench.Show(bench.Surface)
	require.Contains(t, r.texts(r.card.content), "nothing to compare with")
}

func TestPlaceShowsItsOwnFigures(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Place)
	seen := r.texts(r.strip.content)
	require.Contains(t, seen, "MOTION")
	require.Len(t, r.strip.content.Objects, 1)
	require.NotSame(t, r.strip.chart, r.strip.content.Objects[0], "the histogram belongs to Surface")
}

// The scan as it was read is looked at from the same side as the placed one, and left is its left there too; a station is looked at
// where it can be seen.
func TestTheScanAsReadIsSeenFromTheSameSide(t *testing.T) {
	r := newRig(t)
	moved := geom.Rotation(geom.Vec{X: 0.5, Y: 0.7, Z: 0.3}.Unit(), 2.5)
	moved.T = geom.Vec{X: 800, Y: -300, Z: 50}
	r.moved = &moved
	r.open()
	r.seen()
	inReference := func() shade.Camera { return carried(r.view.camera, moved) }
	level := func(c shade.Camera, what string) {
		require.InDelta(t, 1, c.Back().Dot(geom.Vec{Y: -1}), 1e-6, what)
		require.InDelta(t, 1, c.Up.Z, 1e-6, what)
		require.InDelta(t, 0, c.Target.Sub(geom.Vec{X: 200, Z: 200}).Dot(geom.Vec{Z: 1}), 60, what)
	}
	r.bench.Show(bench.Surface)
	r.seen()
	r.key(&fyne.KeyEvent{Name: fyne.KeyL})
	level(r.view.camera, "left, placed")
	r.bench.Show(bench.Parts)
	r.seen()
	level(inReference(), "left, as read")
	r.key(&fyne.KeyEvent{Name: fyne.KeyT})
	require.InDelta(t, 1, inReference().Back().Z, 1e-6, "top, as read")

	// A view that was turned by hand stays the same one.
	r.bench.Show(bench.Surface)
	r.seen()
	r.view.move(60, 25, false)
	by := r.view.camera
	r.bench.Show(bench.Parts)
	r.seen()
	now := inReference()
	require.InDelta(t, 0, now.Target.Sub(by.Target).Norm(), 1e-6)
	require.InDelta(t, 0, now.Right.Sub(by.Right).Norm()+now.Up.Sub(by.Up).Norm(), 1e-9)
	require.Equal(t, by.Height, now.Height)
	r.bench.Show(bench.Surface)
	require.InDelta(t, 0, r.view.camera.Target.Sub(by.Target).Norm(), 1e-6)

	r.bench.Show(bench.Parts)
	r.bench.Select(0, 3)
	r.lookAt()
	require.Equal(t, bench.Seams, r.bench.Shown())
	require.Equal(t, r.bench.Station().P, r.view.camera.Target)
}
