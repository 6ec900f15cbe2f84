package ui

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/storage"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/chart"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

func TestFirstStartShowsThreeDoors(t *testing.T) {
	r := newRig(t)
	seen := r.texts(r.win.Content())
	for _, door := range []string{"Open scan and reference", "Open a saved job", "Try the demo job"} {
		require.Contains(t, seen, door)
	}
	require.True(t, r.header.write.Disabled())
}

func TestTheDemoDoorOpensTheDemo(t *testing.T) {
	r := newRig(t)
	r.openDemo()
	r.idle()
	require.Equal(t, "Left side", r.bench.Job().Title)
	require.False(t, r.doors.Visible())
}

func TestEveryStageAnswersFirst(t *testing.T) {
	r := newRig(t)
	r.open()
	for stage, says := range map[bench.Stage][]string{
		bench.Parts:    {"Scan and reference are read", "400 × 0 × 400 mm"},
		bench.Place:    {"RMS of 0.10 mm", "shift along x"},
		bench.Surface:  {"25.0 % of the measured surface", "Settings"},
		bench.Seams:    {"3 of 16 stations are out", "The wing (side A) stands up to 1.60 ± 0.05 mm proud of the door (side B)", "STATION 16 OF 16"},
		bench.Evidence: {"does not conform", "airbags", "licensed practice"},
	} {
		test.Tap(r.rows[stage])
		require.Equal(t, stage, r.bench.Shown())
		seen := r.texts(r.win.Content())
		for _, s := range says {
			require.Contains(t, seen, s, "stage %v", stage)
		}
	}
}

func TestNothingIsWiderThanTheWindow(t *testing.T) {
	r := newRig(t)
	require.LessOrEqual(t, r.win.Content().MinSize().Width, float32(1280))
	r.open()
	for _, s := range bench.Stages() {
		r.bench.Show(s)
		m := r.win.Content().MinSize()
		require.LessOrEqual(t, m.Width, float32(1280), "stage %v", s)
		r.work.set("laying the scan on the reference, for longer than fits one line", 0.5, true)
		m = r.win.Content().MinSize()
		require.LessOrEqual(t, m.Height, float32(690), "stage %v, beside the menu, on a screen of 720", s)
	}
}

func TestKeysWalkTheStations(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	_, at := r.bench.Selection()
	require.Equal(t, 15, at, "the worst station is marked first")
	r.key(&fyne.KeyEvent{Name: fyne.KeyLeft})
	_, at = r.bench.Selection()
	require.Equal(t, 14, at)
	require.Contains(t, r.texts(r.win.Content()), "STATION 15 OF 16")
	r.key(&fyne.KeyEvent{Name: fyne.KeyDown})
	seam, _ := r.bench.Selection()
	require.Equal(t, 1, seam)
	require.Equal(t, 1, r.card.seam, "the card follows the seam")
	require.Contains(t, r.texts(r.card.content), "The door (side A) stands up to 1.60 ± 0.05 mm proud of the quarter (side B)")
	r.bench.Show(bench.Surface)
	r.key(&fyne.KeyEvent{Name: fyne.KeyLeft})
	_, at = r.bench.Selection()
	require.Equal(t, 15, at, "only where stations are shown")
}

func TestAClickOnTheStripMarksItsStation(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.paint()
	r.pump("the strip", func() bool { return r.strip.chart.done != nil })
	axis := chart.SeamLayout(r.strip.chart.w, r.strip.chart.h, r.strip.chart.scale(), r.bench.Result())
	for _, station := range []int{0, 5, 15} {
		x := float32(axis.X(station) / r.strip.chart.scale())
		r.strip.chart.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(x, 20)}, Button: desktop.MouseButtonPrimary})
		_, at := r.bench.Selection()
		require.Equal(t, station, at)
	}
}

// seen brings the view's picture up to date.
func (r *rig) seen() {
	r.t.Helper()
	r.paint()
	r.pump("the view", func() bool {
		return r.view.picture != nil && r.view.picture.Camera == r.view.camera && r.view.picture.Image.Rect.Dx() == r.view.w
	})
}

func TestAClickInTheViewMarksAStation(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.view.fit("left")
	r.seen()
	st := r.bench.Results()[0].Stations[4]
	x, y, _ := r.view.camera.Project(st.P, r.view.w, r.view.h)
	s := r.view.scale()
	r.clickView(fyne.NewPos(float32(x/s)+3, float32(y/s)+2))
	_, at := r.bench.Selection()
	require.Equal(t, 4, at)
}

func (r *rig) clickView(p fyne.Position) {
	e := &desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: p}, Button: desktop.MouseButtonPrimary}
	r.view.MouseDown(e)
	r.view.MouseUp(e)
}

// The toolkit drops the renderer of a widget that was hidden for a minute.
func TestAViewHiddenForLongDrawsAgain(t *testing.T) {
	r := newRig(t)
	test.WidgetRenderer(r.view).Destroy()
	r.open()
	r.seen()
}

func TestMouseMovesTheCamera(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.view.fit("left")
	r.seen()
	size := r.view.Size()
	middle := fyne.NewPos(size.Width/2, size.Height/2)
	drag := func(button desktop.MouseButton, m fyne.KeyModifier) {
		r.view.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: middle}, Button: button, Modifier: m})
		r.view.Dragged(&fyne.DragEvent{Dragged: fyne.NewDelta(40, 10)})
		r.view.MouseUp(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: middle.AddXY(40, 10)}, Button: button})
	}
	before := r.view.camera
	drag(desktop.MouseButtonPrimary, 0)
	require.NotEqual(t, before.Right, r.view.camera.Right, "a drag turns")
	before = r.view.camera
	drag(desktop.MouseButtonPrimary, fyne.KeyModifierShift)
	require.Equal(t, before.Right, r.view.camera.Right, "with shift it shifts")
	require.NotEqual(t, before.Target, r.view.camera.Target)
	before = r.view.camera
	drag(desktop.MouseButtonTertiary, 0)
	require.Equal(t, before.Right, r.view.camera.Right)
	require.NotEqual(t, before.Target, r.view.camera.Target)

	r.view.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: middle}, Button: desktop.MouseButtonSecondary})
	before = r.view.camera
	r.view.MouseMoved(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: middle.AddXY(30, 0)}, Button: desktop.MouseButtonSecondary})
	require.NotEqual(t, before.Target, r.view.camera.Target, "the right button shifts, though the toolkit calls it no drag")
	r.view.MouseUp(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: middle}, Button: desktop.MouseButtonSecondary})

	// What lies under the pointer stays there while the wheel turns.
	r.view.fit("left")
	at := fyne.NewPos(size.Width/3, size.Height/3)
	s := r.view.scale()
	under := r.view.camera.Unproject(float64(at.X)*s, float64(at.Y)*s, 0, r.view.w, r.view.h)
	height := r.view.camera.Height
	r.view.Scrolled(&fyne.ScrollEvent{PointEvent: fyne.PointEvent{Position: at}, Scrolled: fyne.NewDelta(0, 25)})
	require.Less(t, r.view.camera.Height, height)
	x, y, _ := r.view.camera.Project(under, r.view.w, r.view.h)
	require.InDelta(t, float64(at.X)*s, x, 1e-6)
	require.InDelta(t, float64(at.Y)*s, y, 1e-6)
	height = r.view.camera.Height
	r.view.Scrolled(&fyne.ScrollEvent{PointEvent: fyne.PointEvent{Position: at}, Scrolled: fyne.NewDelta(0, 3125)})
	require.Greater(t, r.view.camera.Height, height/2, "a fast wheel is cut off")
}

func TestADoubleClickCentres(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.view.fit("left")
	r.seen()
	now := int64(1000)
	r.view.now = func() int64 { return now }
	target := geom.Vec{X: 120, Z: 130}
	x, y, _ := r.view.camera.Project(target, r.view.w, r.view.h)
	at := fyne.NewPos(float32(x/r.view.scale()), float32(y/r.view.scale()))
	r.clickView(at)
	before := r.view.camera.Target
	now += 1000
	r.clickView(at)
	require.Equal(t, before, r.view.camera.Target, "two slow clicks are two clicks")
	now += 200
	r.clickView(at)
	require.InDelta(t, 0, r.view.camera.Target.Dist(target), 3*r.view.camera.MMPerPixel(r.view.h))
}

func TestTheLabelSaysDeviationAndState(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.view.fit("left")
	r.seen()
	size := r.view.Size()
	r.view.MouseMoved(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(size.Width/2, size.Height/2)}})
	require.True(t, r.view.label.text.Visible())
	require.Equal(t, "+0.80 mm  proud", r.view.label.text.Text)
	r.view.MouseMoved(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(2, 2)}})
	require.False(t, r.view.label.text.Visible())
}

func TestEscapeEndsAQuestion(t *testing.T) {
	r := newRig(t)
	r.askPair()
	require.NotNil(t, r.win.Canvas().Overlays().Top())
	r.win.Canvas().Focused().TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	require.Nil(t, r.win.Canvas().Overlays().Top())
}

func TestUnsavedChangesAreAskedFor(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	gone := false
	r.safely(func() { gone = true })
	require.False(t, gone)
	require.NotNil(t, r.win.Canvas().Overlays().Top())
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "not saved")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	r.bench.Undo()
	r.idle()
	r.safely(func() { gone = true })
	require.True(t, gone, "nothing to ask once the change is undone")
}

func TestDroppedFiles(t *testing.T) {
	r := newRig(t)
	r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI("/jobs/van.toml")})
	r.idle()
	require.Equal(t, "Left side", r.bench.Job().Title)

	scan, reference := roles([]string{"/a/door-ref.stl", "/a/door-scan.stl"})
	require.Equal(t, []string{"/a/door-scan.stl", "/a/door-ref.stl"}, []string{scan, reference})
	r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI("/a/one.stl"), storage.NewFileURI("/a/two.stl")})
	require.NotNil(t, r.win.Canvas().Overlays().Top(), "asks which is which")
	require.NotContains(t, r.question(), "Left out")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI("/a/one.stl"), storage.NewFileURI("/a/two.stl"), storage.NewFileURI("/a/three.stl"), storage.NewFileURI("/a/photo.jpg")})
	require.Contains(t, r.question(), "Left out: three.stl, photo.jpg.")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})

	r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI("/a/photo.jpg")})
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "photo.jpg cannot be opened")
	require.Len(t, r.win.Canvas().Overlays().List(), 1)
	r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI("/a/notes.doc")})
	require.Len(t, r.win.Canvas().Overlays().List(), 1, "what was said of the first gave way")
	r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI("/a/a.toml"), storage.NewFileURI("/a/b.toml")})
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "One job is opened at a time")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	require.Empty(t, r.win.Canvas().Overlays().List())
}

// A scan and its reference are often dropped one after the other, in either order.
func TestMeshesDroppedOneByOneBelongTogether(t *testing.T) {
	r := newRig(t)
	drop := func(path string) { r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI(path)}) }
	asked := func(scan, reference string) {
		t.Helper()
		require.Len(t, r.win.Canvas().Overlays().List(), 1)
		require.Equal(t, []string{scan, reference}, r.pairNow())
	}
	drop("/a/cad.stl")
	asked("", "/a/cad.stl")
	drop("/b/wing.ply")
	asked("/b/wing.ply", "/a/cad.stl")
	drop("/b/wing.ply")
	asked("/b/wing.ply", "/a/cad.stl")
	drop("/b/other.ply")
	asked("/b/other.ply", "/a/cad.stl")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	drop("/b/wing.ply")
	asked("/b/wing.ply", "")

	// While something else is asked, that comes first.
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	r.tell("A question", "of another kind")
	drop("/a/cad.stl")
	require.Len(t, r.win.Canvas().Overlays().List(), 2)
	require.Contains(t, r.texts(r.win.Canvas().Overlays().List()[0]), "of another kind")
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "cad.stl waits: first answer")
}

// What is dropped while something is asked is not lost: it is said that it waits, and it is opened once the question was answered.
func TestADropWaitsForAnAnswer(t *testing.T) {
	r := newRig(t)
	drop := func(path string) { r.Dropped(fyne.Position{}, []fyne.URI{storage.NewFileURI(path)}) }
	overlays := func() int { return len(r.win.Canvas().Overlays().List()) }
	r.tell("A question", "of another kind")
	drop("/jobs/first.toml")
	drop("/jobs/van.toml")
	require.Equal(t, 2, overlays(), "the later drop stands for the earlier")
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "van.toml waits")
	r.strike(fyne.KeySpace)
	require.Equal(t, 1, overlays(), "back to the question")
	time.Sleep(2 * heldLook)
	r.drain()
	require.Nil(t, r.bench.Job(), "not before it was answered")
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	require.Zero(t, overlays())
	r.pump("the job that waited", func() bool { return r.bench.Job() != nil })
	r.idle()
	require.Nil(t, r.held)

	// It may be left alone as well.
	before := r.bench.Job()
	r.tell("A question", "of another kind")
	drop("/a/one.stl")
	h := r.held
	r.unhold()
	require.Equal(t, 1, overlays())
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	r.awaitAnswer(h)
	time.Sleep(2 * heldLook)
	r.drain()
	require.Zero(t, overlays())
	require.Same(t, before, r.bench.Job())
}

// A folder stands for the job in it, or for its two meshes; one that holds several of them stands for nothing.
func TestADroppedFolder(t *testing.T) {
	dir := t.TempDir()
	put := func(names ...string) {
		for _, n := range names {
			require.NoError(t, os.WriteFile(filepath.Join(dir, n), nil, 0o644))
		}
	}
	require.Nil(t, within([]string{dir}))
	put("scan.stl", "ref.stl", "photo.jpg")
	require.Equal(t, []string{filepath.Join(dir, "ref.stl"), filepath.Join(dir, "scan.stl")}, within([]string{dir}))
	put("third.stl")
	require.Nil(t, within([]string{dir}))
	put("inspection.toml", "inspection.unsaved.toml")
	require.Equal(t, []string{filepath.Join(dir, "inspection.toml")}, within([]string{dir}))
	put("second.toml")
	require.Nil(t, within([]string{dir}))
	require.Nil(t, within([]string{filepath.Join(dir, "scan.stl")}), "no folder")
}

// Whoever has chosen one of two meshes need not look for the other.
func TestFellow(t *testing.T) {
	dir := t.TempDir()
	put := func(names ...string) {
		for _, n := range names {
			require.NoError(t, os.WriteFile(filepath.Join(dir, n), nil, 0o644))
		}
	}
	at := func(name string) string { return filepath.Join(dir, name) }
	put("left.stl", "notes.txt")
	require.Empty(t, fellow(at("left.stl")), "there is no other")
	put("left CAD.PLY")
	require.Equal(t, at("left CAD.PLY"), fellow(at("left.stl")))
	require.Equal(t, at("left.stl"), fellow(at("left CAD.PLY")))
	put("second.stl")
	require.Equal(t, at("left CAD.PLY"), fellow(at("second.stl")), "the only one that is named as a reference")
	require.Empty(t, fellow(at("left CAD.PLY")), "one of two scans")
	require.Empty(t, fellow(filepath.Join(dir, "none", "x.stl")))
}

func TestTheUnitIsAskedFor(t *testing.T) {
	r := newRig(t)
	r.loadErr = &meshio.UnitError{Path: "/jobs/scan.stl", Readings: []meshio.Reading{{Unit: "mm", Size: geom.Vec{X: 60, Y: 60, Z: 60}}, {Unit: "cm", Size: geom.Vec{X: 600, Y: 600, Z: 600}}}}
	require.NoError(t, r.Open([]string{"/jobs/scan.stl", "/jobs/ref.stl"}))
	r.idle()
	top := r.win.Canvas().Overlays().Top()
	require.NotNil(t, top)
	seen := r.texts(top)
	require.Contains(t, seen, "scan.stl does not say its unit")
	require.Contains(t, seen, "cm: the part would measure 600 × 600 × 600 mm")
	tapText(t, top, "cm: the part would measure 600 × 600 × 600 mm")
	r.idle()
	require.Equal(t, meshio.Centimetre, r.bench.Job().Scan.Units)
}

// tapText presses the button with a text.
func tapText(t *testing.T, o fyne.CanvasObject, text string) {
	t.Helper()
	test.Tap(button(t, o, text))
}

// button returns the button with a text.
func button(t *testing.T, o fyne.CanvasObject, text string) *pushButton {
	t.Helper()
	var found *pushButton
	var walk func(fyne.CanvasObject)
	walk = func(o fyne.CanvasObject) {
		switch x := o.(type) {
		case *pushButton:
			if x.Text == text {
				found = x
			}
		case *fyne.Container:
			for _, c := range x.Objects {
				walk(c)
			}
		case fyne.Widget:
			for _, c := range test.WidgetRenderer(x).Objects() {
				walk(c)
			}
		}
	}
	walk(o)
	require.NotNil(t, found, "no button %q", text)
	return found
}

func TestAnErrorIsShownWithoutNamesOfPackages(t *testing.T) {
	r := newRig(t)
	r.open()
	r.mu.Lock()
	r.loadErr = errors.New("meshio: scan.stl: triangle 812 at byte 40684: vertex is not finite")
	r.mu.Unlock()
	require.NoError(t, r.Open([]string{"/jobs/scan.stl", "/jobs/ref.stl"}))
	r.idle()
	said := r.texts(r.win.Canvas().Overlays().Top())
	require.Contains(t, said, "scan.stl: triangle 812 at byte 40684: vertex is not finite")
	require.NotContains(t, said, "meshio")
	require.Equal(t, "van.toml", r.bench.Job().Path, "the job stays")
}

func TestStopIsAtOnce(t *testing.T) {
	r := newRig(t)
	r.slow = make(chan struct{})
	r.bench.Open("van.toml")
	r.pump("the placement", func() bool {
		what, _, _ := r.bench.Running()
		return what == "laying the scan on the reference"
	})
	require.True(t, r.work.content.Visible())
	require.Contains(t, r.texts(r.work.content), "laying the scan on the reference")
	test.Tap(r.work.stop)
	require.False(t, r.work.content.Visible())
	require.Equal(t, bench.NotDone, r.bench.Lamp(bench.Place))
	r.bench.Show(bench.Place)
	require.Contains(t, r.texts(r.card.content), "The work was stopped")
}

func TestSavingAndRecentJobs(t *testing.T) {
	r := newRig(t)
	r.open()
	path := filepath.Join(t.TempDir(), "kept.toml")
	saved := false
	r.saveTo(path, func() { saved = true })
	r.pump("the file", func() bool { return saved })
	require.FileExists(t, path)
	r.pump("the recent jobs", func() bool { return slices.Equal(r.recent(), []string{path}) })
	r.win.SetMainMenu(nil)
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "another" })
	r.idle()
	require.Nil(t, r.win.MainMenu(), "the menu is made anew for another file only")
	require.NoError(t, os.Remove(path))
	require.Empty(t, r.recent(), "a file that is gone is not offered")
}

func TestEvidenceIsWrittenOnce(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Evidence)
	r.writeTo("/out", false)
	r.idle()
	require.Equal(t, []string{"/out"}, r.wrote)
	require.Contains(t, r.texts(r.card.content), "Written to /out")
}

func TestBothThemes(t *testing.T) {
	r := newRig(t)
	r.open()
	for _, mode := range []string{"light", "dark"} {
		r.look.Mode = mode
		r.repaint()
		p := currentPalette()
		want := light()
		if mode == "dark" {
			want = dark()
		}
		require.NotNil(t, p.Say)
		p.Say = nil // functions cannot be compared
		require.Equal(t, want, p)
		require.Equal(t, ink(want.Ink), r.look.Color(theme.ColorNameForeground, theme.VariantLight))
		require.Equal(t, want.Ink, r.header.title.Color)
	}
}

func TestEveryCommandIsInTheMenu(t *testing.T) {
	r := newRig(t)
	shortcuts := map[string]string{}
	for _, m := range r.win.MainMenu().Items {
		for _, i := range m.Items {
			if i.IsSeparator {
				continue
			}
			require.NotEmpty(t, i.Label)
			if i.Shortcut != nil {
				require.Empty(t, shortcuts[i.Shortcut.ShortcutName()], "%s has the shortcut of %s", i.Label, shortcuts[i.Shortcut.ShortcutName()])
				shortcuts[i.Shortcut.ShortcutName()] = i.Label
			}
		}
	}
	require.Greater(t, len(shortcuts), 20)
}

// TestKeysInMenusAreReadable draws a menu and looks how far its keys stand out from the ground.
func TestKeysInMenusAreReadable(t *testing.T) {
	r := newRig(t)
	for _, mode := range []string{"light", "dark"} {
		r.look.Mode = mode
		r.repaint()
		for _, m := range r.win.MainMenu().Items {
			for _, c := range test.WidgetRenderer(widget.NewMenu(m)).Objects() {
				keyTexts(c, func(text *canvas.Text) {
					_, _, _, a := text.Color.RGBA()
					require.Greater(t, a, uint32(0xf000), "%s in %s: %q", mode, m.Label, text.Text)
				})
			}
		}
	}
}

func keyTexts(o fyne.CanvasObject, look func(*canvas.Text)) {
	switch x := o.(type) {
	case *canvas.Text:
		look(x)
	case *fyne.Container:
		for _, c := range x.Objects {
			keyTexts(c, look)
		}
	case fyne.Widget:
		for _, c := range test.WidgetRenderer(x).Objects() {
			keyTexts(c, look)
		}
	}
}

// Who runs the window learns that it is closed, so that the program can be ended whatever the toolkit does.
func TestClosingIsTold(t *testing.T) {
	r := newRig(t)
	r.open()
	told := 0
	r.opt.Closed = func() { told++ }
	r.askClose()
	require.Equal(t, 1, told)
}

func TestTheInsetShrinksAndCloses(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.paint()
	require.Equal(t, fyne.NewSize(insetWidth, insetHeight), r.insetB.Size())
	for _, s := range []fyne.Size{fyne.NewSize(800, 560), fyne.NewSize(900, 600), fyne.NewSize(1000, 620)} {
		r.win.Resize(s)
		r.paint()
		view, inset, ruler := r.view.Size(), r.insetB.Size(), r.ruler.Size()
		require.LessOrEqual(t, inset.Width*inset.Height, 0.5*view.Width*view.Height, "%v: half of the view stays free", s)
		require.GreaterOrEqual(t, inset.Width, float32(200), "%v: it can still be read", s)
		if ruler.Height > 0 {
			require.GreaterOrEqual(t, r.insetB.Position().Y, r.ruler.Position().Y+ruler.Height, "%v: it does not cover the ruler", s)
		}
	}
	for _, s := range []fyne.Size{fyne.NewSize(1000, 700), fyne.NewSize(1280, 800)} {
		r.win.Resize(s)
		r.paint()
		bar, ruler := r.bar.row, r.ruler
		right := bar.Position().X + r.bar.content.Position().X + bar.MinSize().Width
		bottom := r.bar.content.Position().Y + bar.MinSize().Height
		require.Positive(t, ruler.Size().Height, "%v", s)
		require.True(t, right <= ruler.Position().X || bottom <= ruler.Position().Y, "%v: the ruler covers no button", s)
	}
	r.win.Resize(fyne.NewSize(1280, 800))
	test.Tap(r.insetClose)
	require.False(t, r.insetB.Visible())
	r.bench.Step(-1)
	require.False(t, r.insetB.Visible(), "it stays closed")
	require.Contains(t, r.texts(r.bar.content), "Show the cut")
	test.Tap(r.bar.cut)
	require.True(t, r.insetB.Visible())
	require.NotContains(t, r.texts(r.bar.content), "Show the cut")
	r.bench.Show(bench.Surface)
	require.False(t, r.insetB.Visible())
}

func TestWhatIsOutOfDateSaysSoAndCanGoOn(t *testing.T) {
	r := newRig(t)
	r.open()
	r.slow = make(chan struct{})
	r.bench.Show(bench.Seams)
	r.paint()
	r.bench.Edit("method", func(i *inspection.Inspection) { i.Place.Method = "as-is" })
	require.Contains(t, r.texts(r.card.content), "The job has changed since")
	require.NotContains(t, r.texts(r.card.content), "Go on", "it goes on by itself")
	r.bench.Stop()
	r.drain()
	for _, s := range []bench.Stage{bench.Place, bench.Surface, bench.Trust, bench.Seams, bench.Evidence} {
		test.Tap(r.rows[s])
		require.Contains(t, r.texts(r.card.notice), "Go on", "stage %v", s)
	}
	require.Contains(t, r.texts(r.card.notice), "missing or out of date")
	test.Tap(r.rows[bench.Parts])
	require.False(t, r.card.notice.Visible(), "the parts are those of the job")

	test.Tap(r.rows[bench.Seams])
	r.card.scroll.ScrollToBottom()
	require.Equal(t, 1, strings.Count(r.texts(r.card.content), "The job has changed since"))
	d := fyne.CurrentApp().Driver()
	require.Less(t, d.AbsolutePositionForObject(r.card.notice).Y, d.AbsolutePositionForObject(r.card.scroll).Y, "in sight, however far one has scrolled")
	close(r.slow)
	tapText(t, r.card.notice, "Go on")
	r.idle()
	require.True(t, r.bench.Complete())
	require.False(t, r.card.notice.Visible())
	require.NotContains(t, r.texts(r.card.content), "The job has changed since")
}
