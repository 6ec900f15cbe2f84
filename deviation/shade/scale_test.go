package shade_test

import (
	"fmt"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// lightness is CIE L* of an sRGB colour (IEC 61966-2-1, D65).
func lightness(c color.RGBA) float64 {
	linear := func(b uint8) float64 {
		v := float64(b) / 255
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	y := 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	if y <= 216.0/24389 {
		return 24389.0 / 27 * y
	}
	return 116*math.Cbrt(y) - 16
}

// TestDivergingIsThePublishedScale checks rows of Moreland's published table
// (Diverging Color Maps for Scientific Visualization, 2009) and their lightness.
// A step of one 8-bit level is allowed: the published rows were rounded from other arithmetic.
func TestDivergingIsThePublishedScale(t *testing.T) {
	for _, row := range []struct {
		t       float64
		r, g, b int
		l       float64
	}{
		{0, 0x3b, 0x4c, 0xc0, 37.7}, {0.125, 0x62, 0x82, 0xea, 56.5}, {0.25, 0x8d, 0xb0, 0xfe, 72.0},
		{0.375, 0xb8, 0xd0, 0xf9, 82.9}, {0.5, 0xdd, 0xdd, 0xdd, 88.0}, {0.625, 0xf5, 0xc4, 0xad, 82.9},
		{0.75, 0xf4, 0x9a, 0x7b, 72.0}, {0.875, 0xde, 0x60, 0x4d, 56.5}, {1, 0xb4, 0x04, 0x26, 37.7},
	} {
		c := shade.Diverging(row.t)
		got := fmt.Sprintf("at %g: #%02x%02x%02x", row.t, c.R, c.G, c.B)
		require.InDelta(t, row.r, c.R, 1, got)
		require.InDelta(t, row.g, c.G, 1, got)
		require.InDelta(t, row.b, c.B, 1, got)
		require.InDelta(t, row.l, lightness(c), 0.4, got)
	}
}

func TestLightnessIsSymmetricAndRises(t *testing.T) {
	before := 0.0
	for i := range 101 {
		x := float64(i) / 200
		low, high := lightness(shade.Diverging(x)), lightness(shade.Diverging(1-x))
		require.InDelta(t, low, high, 0.6, "at %g", x) // 8-bit rounding of dark blues and reds
		require.Greater(t, low, before-0.15, "at %g", x)
		before = low
	}
}

func TestScalePaintsOnlyWhatIsWrong(t *testing.T) {
	grey := shade.Diverging(0.5)
	for _, s := range []shade.Scale{
		{Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}, Limit: 1.5},
		{Tolerance: verdict.Tolerance{Lo: -0.2, Hi: 0.9}, Limit: 2},
		{Tolerance: verdict.Tolerance{Lo: -2, Hi: 2}, Limit: 1}, // ends inside the tolerance
	} {
		require.Equal(t, grey, s.Color(0))
		require.Equal(t, grey, s.Color(s.Tolerance.Hi))
		require.Equal(t, grey, s.Color(s.Tolerance.Lo))
		step := math.Abs(lightness(s.Color(s.Tolerance.Hi+1e-6)) - lightness(grey))
		require.Greater(t, step, 4.0, "the border of the tolerance cannot be seen")
		require.Equal(t, shade.Diverging(1), s.Color(100))
		require.Equal(t, shade.Diverging(0), s.Color(-100))
		before := lightness(grey) + 0.1
		for mm := s.Tolerance.Hi; mm < 3; mm += 0.01 {
			l := lightness(s.Color(mm))
			require.LessOrEqual(t, l, before+0.2)
			before = l
		}
	}
	unknown := shade.NewScale(verdict.Tolerance{Lo: -1, Hi: 1}).Color(math.NaN())
	require.InDelta(t, int(unknown.R), int(unknown.B), 12)
	require.Less(t, lightness(unknown), 60.0)
	require.Equal(t, 1.5, shade.NewScale(verdict.Tolerance{Lo: -0.5, Hi: 0.2}).Limit)
	require.Equal(t, 1.0, shade.NewScale(verdict.Tolerance{}).Limit)
}

func TestViewsLookWhereTheySay(t *testing.T) {
	// Vehicle axes: x rearward, y to the right, z up.
	toViewer := map[string]geom.Vec{
		"left": {Y: -1}, "right": {Y: 1}, "front": {X: -1}, "rear": {X: 1}, "top": {Z: 1}, "bottom": {Z: -1},
	}
	box := geom.Box{Lo: geom.Vec{X: -100}, Hi: geom.Vec{X: 2000, Y: 800, Z: 1000}}
	for _, name := range shade.ViewNames() {
		c := view(t, name, box, 300, 200)
		require.InDelta(t, 0, c.Right.Dot(c.Up), 1e-12)
		require.InDelta(t, 1, c.Up.Norm(), 1e-12)
		if want, ok := toViewer[name]; ok {
			require.InDelta(t, 1, want.Dot(c.Back()), 1e-12, name)
		} else {
			b := c.Back()
			require.True(t, b.X < 0 && b.Y < 0 && b.Z > 0, "three-quarter looks at the left side from the front and above")
		}
		for _, p := range box.Corners() {
			x, y, _ := c.Project(p, 300, 200)
			require.True(t, x > 0 && x < 300 && y > 0 && y < 200, name)
		}
	}
	_, ok := shade.ViewOf("inside", box, 1)
	require.False(t, ok)
}

func TestGesturesKeepWhatTheyPromise(t *testing.T) {
	box := geom.Box{Hi: geom.Vec{X: 2000, Y: 800, Z: 1000}}
	const w, h = 640, 400
	c := view(t, "three-quarter", box, w, h)
	at := c.Unproject(500, 100, 40, w, h)
	x, y, depth := c.Project(at, w, h)
	require.InDeltaSlice(t, []float64{500, 100, 40}, []float64{x, y, depth}, 1e-9)

	zoomed := c.ZoomAt(500, 100, 2.5, w, h)
	x, y, _ = zoomed.Project(at, w, h)
	require.InDeltaSlice(t, []float64{500, 100}, []float64{x, y}, 1e-9)
	require.InEpsilon(t, c.Height/2.5, zoomed.Height, 1e-12)

	x, y, _ = c.Pan(30, -20, h).Project(at, w, h)
	require.InDeltaSlice(t, []float64{530, 80}, []float64{x, y}, 1e-9)

	turned := c.OrbitAbout(at, 70, -35)
	x, y, _ = turned.Project(at, w, h)
	require.InDeltaSlice(t, []float64{500, 100}, []float64{x, y}, 1e-9)
	require.InDelta(t, 0, turned.Right.Dot(turned.Up), 1e-12)

	// A drag to the right carries the near side to the right, a drag down carries it down.
	left := view(t, "left", box, w, h)
	near := box.Center().Add(geom.Vec{Y: -400})
	x0, y0, _ := left.Project(near, w, h)
	x, _, _ = left.Orbit(10, 0).Project(near, w, h)
	require.Greater(t, x, x0)
	_, y, _ = left.Orbit(0, 10).Project(near, w, h)
	require.Greater(t, y, y0)

	inset := c.Inset(w, h, 100, 20, 40, 60)
	x, y, _ = inset.Project(c.Target, w, h)
	require.InDeltaSlice(t, []float64{100 + 250, 20 + 160}, []float64{x, y}, 1e-9)
}
