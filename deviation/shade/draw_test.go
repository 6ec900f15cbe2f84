package shade_test

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/geom"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

func view(t testing.TB, name string, box geom.Box, w, h int) shade.Camera {
	t.Helper()
	c, ok := shade.ViewOf(name, box, float64(w)/float64(h))
	require.True(t, ok)
	return c
}

// covered counts the pixels that are not background.
func covered(img *image.RGBA, ground color.RGBA) (n int) {
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			if img.RGBAAt(x, y) != ground {
				n++
			}
		}
	}
	return n
}

func TestSphereCoversItsDisc(t *testing.T) {
	m := shade.NewModel(sphere(geom.Vec{X: 3, Y: -2, Z: 5}, 100, 96), nil)
	for _, name := range shade.ViewNames() {
		c := view(t, name, m.Box(), 600, 500)
		p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), 600, 500, 2)
		// Analytic: a disc of radius 100 mm; chords of 96 parallels shrink it by under 0.1 %.
		want := math.Pi * 100 * 100 / math.Pow(c.MMPerPixel(500), 2)
		require.InEpsilon(t, want, covered(p.Image, shade.LightTheme().Background), 0.003, name)
	}
}

func TestPictureIsTightAndOpaque(t *testing.T) {
	m := shade.NewModel(sphere(geom.Vec{}, 10, 12), nil)
	p := shade.RenderStill([]*shade.Model{m}, view(t, "front", m.Box(), 37, 23), shade.DarkTheme(), 37, 23, 3)
	require.Equal(t, image.Rect(0, 0, 37, 23), p.Image.Rect)
	require.Equal(t, 37*4, p.Image.Stride)
	require.True(t, p.Image.Opaque())
}

func TestNoHolesBetweenNeighbours(t *testing.T) {
	m := shade.NewModel(sheet(300, 1000), nil)
	c := view(t, "left", m.Box(), 640, 480)
	c.Height = 300 // the sheet reaches beyond the picture on every side
	for i := range 8 {
		c = c.Orbit(3.7*float64(i), 2.9*float64(i))
		p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), 640, 480, 2)
		require.Equal(t, 640*480, covered(p.Image, shade.LightTheme().Background))
	}
}

func TestNearerModelIsDrawnWhateverTheOrder(t *testing.T) {
	near, far := shade.NewModel(sphere(geom.Vec{Y: -300}, 50, 32), nil), shade.NewModel(sphere(geom.Vec{}, 100, 32), nil)
	c := view(t, "left", far.Box(), 200, 200)
	for i, models := range [][]*shade.Model{{near, far}, {far, near}} {
		p := shade.Render(models, c, shade.LightTheme(), 200, 200, 2)
		at, model, _, ok := p.Pick(100, 100)
		require.True(t, ok)
		require.Equal(t, i, model)
		require.InDelta(t, -350, at.Y, 0.5)
		_, model, _, ok = p.Pick(100, 30) // beside the small sphere, on the large one
		require.True(t, ok)
		require.Equal(t, 1-i, model)
	}
}

// What is drawn nearer by more than the slack hides a point; what lies beside the part or outside the picture is not hidden.
func TestHidden(t *testing.T) {
	m := shade.NewModel(sphere(geom.Vec{X: 5}, 100, 96), nil)
	c := view(t, "left", m.Box(), 300, 200) // looks along y
	var r shade.Renderer
	models := []*shade.Model{m}
	for name, p := range map[string]*shade.Picture{
		"plain": r.Render(models, c, shade.LightTheme(), 300, 200, 2), "still": r.RenderStill(models, c, shade.LightTheme(), 300, 200, 2),
	} {
		require.True(t, p.Hidden(geom.Vec{X: 5, Y: 0}, 1), name)
		require.True(t, p.Hidden(geom.Vec{X: 5, Y: -98}, 1), name)
		require.False(t, p.Hidden(geom.Vec{X: 5, Y: -98}, 3), name)
		require.False(t, p.Hidden(geom.Vec{X: 5, Y: -100}, 1), name)
		require.False(t, p.Hidden(geom.Vec{X: 5 + 105, Y: 50}, 1), name)
		require.False(t, p.Hidden(geom.Vec{X: 5000, Y: 50}, 1), name)
	}
}

// TestPaintShowsThroughDepth paints the near ball red and the far one blue: the
// middle of the picture is red in either order of drawing.
func TestPaintShowsThroughDepth(t *testing.T) {
	near, far := shade.NewModel(sphere(geom.Vec{Y: -300}, 50, 32), nil), shade.NewModel(sphere(geom.Vec{}, 100, 32), nil)
	paint := func(m *shade.Model, mm float64) {
		values := make([]float64, len(m.Mesh().Vertices))
		for i := range values {
			values[i] = mm
		}
		m.Paint(values, nil, shade.Scale{Tolerance: tolerance(0.1), Limit: 1})
	}
	paint(near, 5)
	paint(far, -5)
	c := view(t, "left", far.Box(), 200, 200)
	first := shade.Render([]*shade.Model{near, far}, c, shade.LightTheme(), 200, 200, 2).Image
	second := shade.Render([]*shade.Model{far, near}, c, shade.LightTheme(), 200, 200, 2).Image
	require.Equal(t, first.Pix, second.Pix)
	p := first.RGBAAt(100, 100)
	require.Greater(t, p.R, p.B)
	p = first.RGBAAt(100, 30)
	require.Greater(t, p.B, p.R)
}

func TestPickReturnsThePointUnderThePixel(t *testing.T) {
	m := shade.NewModel(sphere(geom.Vec{X: 10, Y: 20, Z: 30}, 100, 200), nil)
	const w, h = 400, 300
	c := view(t, "three-quarter", m.Box(), w, h)
	p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), w, h, 2)
	ground := shade.LightTheme().Background
	for y := 0; y < h; y += 3 {
		for x := 0; x < w; x += 3 {
			hit, ok := p.PickHit(x, y)
			require.Equal(t, p.Image.RGBAAt(x, y) != ground, ok, "pixel %d, %d", x, y)
			if !ok {
				continue
			}
			px, py, depth := c.Project(hit.At, w, h)
			require.InDelta(t, float64(x)+0.5, px, 0.6)
			require.InDelta(t, float64(y)+0.5, py, 0.6)
			require.Positive(t, depth) // the near half of the ball
			require.InDelta(t, 100, hit.At.Dist(geom.Vec{X: 10, Y: 20, Z: 30}), 0.05)
			require.False(t, hit.Inner)
			require.Contains(t, m.Mesh().Faces[hit.Face], hit.Vertex)
		}
	}
	_, ok := p.PickHit(-1, 0)
	require.False(t, ok)
}

// waves paints a sheet with a deviation that runs through the whole scale, and leaves a stripe unknown.
func waves() *shade.Model {
	m := shade.NewModel(sheet(150, 400), nil)
	mm, known := make([]float64, len(m.Mesh().Vertices)), make([]bool, len(m.Mesh().Vertices))
	for i, v := range m.Mesh().Vertices {
		mm[i], known[i] = 2*math.Sin(v.X/30), v.Z < 300
	}
	m.Paint(mm, known, shade.NewScale(tolerance(0.5)))
	return m
}

func TestSameBytesForAnyNumberOfThreads(t *testing.T) {
	models := []*shade.Model{waves(), shade.NewModel(sphere(geom.Vec{X: 200, Z: 200}, 60, 80), nil)}
	c := view(t, "three-quarter", models[0].Box(), 333, 222)
	var r shade.Renderer
	want := append([]uint8(nil), shade.Render(models, c, shade.DarkTheme(), 333, 222, 1).Image.Pix...)
	for _, threads := range []int{1, 2, 5, 0} {
		got := r.Render(models, c, shade.DarkTheme(), 333, 222, threads)
		require.True(t, bytes.Equal(want, got.Image.Pix), "%d threads", threads)
	}
}

func TestBuffersGoRoundAndStayClean(t *testing.T) {
	m := waves()
	var r shade.Renderer
	large, small := view(t, "left", m.Box(), 200, 150), view(t, "top", m.Box(), 90, 60)
	first := r.Render([]*shade.Model{m}, large, shade.LightTheme(), 200, 150, 3)
	kept := append([]uint8(nil), first.Image.Pix...)
	r.Render([]*shade.Model{m}, small, shade.LightTheme(), 90, 60, 2)
	r.RenderStill([]*shade.Model{m}, small, shade.LightTheme(), 90, 60, 1)
	require.Equal(t, kept, first.Image.Pix, "a shown picture was written to")
	again := r.Render([]*shade.Model{m}, large, shade.LightTheme(), 200, 150, 3)
	require.Equal(t, kept, again.Image.Pix, "a used buffer was not empty")
}

// TestUnknownIsNeverColoured looks at the hue: the scale is warm or cold beyond
// its grey middle, the hatch and the bare part are grey.
func TestUnknownIsNeverColoured(t *testing.T) {
	m := waves()
	c := view(t, "left", m.Box(), 400, 400)
	p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), 400, 400, 2)
	coloured := 0
	for y := 0; y < 400; y += 2 {
		for x := 0; x < 400; x += 2 {
			hit, ok := p.PickHit(x, y)
			if !ok {
				continue
			}
			px := p.Image.RGBAAt(x, y)
			hue := int(max(px.R, px.G, px.B)) - int(min(px.R, px.G, px.B))
			unknown := false
			for _, v := range m.Mesh().Faces[hit.Face] {
				unknown = unknown || m.Mesh().Vertices[v].Z >= 300
			}
			if unknown {
				require.LessOrEqual(t, hue, 14, "pixel %d, %d", x, y)
				require.Less(t, px.R, uint8(170))
			} else if hue > 30 {
				coloured++
			}
		}
	}
	require.Greater(t, coloured, 2500)
}

func TestInnerSideIsDarker(t *testing.T) {
	m := shade.NewModel(sheet(40, 100), nil)
	out := shade.Render([]*shade.Model{m}, view(t, "left", m.Box(), 100, 100), shade.LightTheme(), 100, 100, 1)
	in := shade.Render([]*shade.Model{m}, view(t, "right", m.Box(), 100, 100), shade.LightTheme(), 100, 100, 1)
	require.Greater(t, out.Image.RGBAAt(50, 50).G, in.Image.RGBAAt(50, 50).G)
	hit, ok := in.PickHit(50, 50)
	require.True(t, ok)
	require.True(t, hit.Inner)
}

// TestDeepZoomClips looks so closely at one triangle of 4 km that its corners lie far outside what fits the edge functions.
func TestDeepZoomClips(t *testing.T) {
	big := &mesh.Mesh{Vertices: []geom.Vec{{X: -2e6, Z: -1e6}, {X: 2e6, Z: -1e6}, {Z: 3e6}}, Faces: [][3]uint32{{0, 1, 2}}}
	m := shade.NewModel(big, nil)
	c := view(t, "left", m.Box(), 300, 200)
	c.Target, c.Height = geom.Vec{}, 1
	p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), 300, 200, 2)
	require.Equal(t, 300*200, covered(p.Image, shade.LightTheme().Background))
}

// TestPointsAreDots draws a scan without faces: four points, one of them hidden
// behind another, one beyond the scale and one without a number.
func TestPointsAreDots(t *testing.T) {
	cloud := &mesh.Mesh{Vertices: []geom.Vec{{X: -3}, {X: -3, Y: 1}, {}, {X: 3}}, Normals: []geom.Vec{{Y: -1}, {Y: -1}, {Y: -1}, {}}}
	m := shade.NewModel(cloud, nil)
	m.Paint([]float64{-5, 5, 5, 0}, []bool{true, true, true, false}, shade.NewScale(tolerance(0.5)))
	c := shade.Camera{Right: geom.Vec{X: 1}, Up: geom.Vec{Z: 1}, Height: 10}
	p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), 100, 100, 2)
	require.Equal(t, 3*4, covered(p.Image, shade.LightTheme().Background))
	px := p.Image.RGBAAt(20, 50)
	require.Greater(t, px.B, px.R)
	px = p.Image.RGBAAt(50, 50)
	require.Greater(t, px.R, px.B)
	px = p.Image.RGBAAt(80, 50)
	require.InDelta(t, int(px.R), int(px.B), 14)
	_, ok := p.PickHit(50, 50)
	require.False(t, ok)
}

func TestOddInputsDrawNothing(t *testing.T) {
	nan := math.NaN()
	broken := &mesh.Mesh{Vertices: []geom.Vec{{X: nan}, {X: 1}, {Z: 1}}, Faces: [][3]uint32{{0, 1, 2}}}
	for name, m := range map[string]*mesh.Mesh{"empty": {}, "not finite": broken, "lost points": {Vertices: []geom.Vec{{X: nan}}}} {
		model := shade.NewModel(m, nil)
		p := shade.Render([]*shade.Model{model}, shade.Camera{Right: geom.Vec{X: 1}, Up: geom.Vec{Z: 1}, Height: 10}, shade.LightTheme(), 20, 20, 2)
		require.Zero(t, covered(p.Image, shade.LightTheme().Background), name)
		_, ok := p.PickHit(10, 10)
		require.False(t, ok, name)
	}
	p := shade.Render(nil, shade.Camera{}, shade.LightTheme(), 0, -3, 2)
	require.Equal(t, image.Rect(0, 0, 0, 0), p.Image.Rect)
}

func TestGoldenPicture(t *testing.T) {
	m := waves()
	c := view(t, "three-quarter", m.Box(), 160, 120)
	img := shade.RenderStill([]*shade.Model{m}, c, shade.LightTheme(), 160, 120, 0).Image
	path := filepath.Join("testdata", "waves.png")
	if *update {
		var b bytes.Buffer
		require.NoError(t, png.Encode(&b, img))
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	}
	f, err := os.Open(path)
	require.NoError(t, err, "make it with go test -update and look at it")
	defer f.Close()
	want, err := png.Decode(f)
	require.NoError(t, err)
	require.Equal(t, want.Bounds(), img.Rect)
	for y := range 120 {
		for x := range 160 {
			require.Equal(t, color.RGBAModel.Convert(want.At(x, y)), img.At(x, y), "pixel %d, %d", x, y)
		}
	}
}
