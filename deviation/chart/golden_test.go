package chart

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

func TestGoldenPictures(t *testing.T) {
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	st := stationOf(4.4, 0.32)
	_, mm, _ := skin(60)
	for name, img := range map[string]*image.RGBA{
		"seam":      Seam(420, 150, Light(), 1, seamOf(12), 3),
		"station":   Station(340, 240, Light(), 1, seamOf(12).Seam, &st),
		"histogram": Histogram(360, 150, Dark(), 1, mm, nil, tol, shade.NewScale(tol)),
		"ruler":     Ruler(120, 220, Light(), 1, shade.NewScale(tol)),
	} {
		path := filepath.Join("testdata", name+".png")
		if *update {
			var b bytes.Buffer
			require.NoError(t, png.Encode(&b, img))
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
		}
		f, err := os.Open(path)
		require.NoError(t, err, "make it with go test -update and look at it")
		want, err := png.Decode(f)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		require.Equal(t, want.Bounds(), img.Rect)
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				require.Equal(t, color.RGBAModel.Convert(want.At(x, y)), img.At(x, y), "%s: pixel %d, %d", name, x, y)
			}
		}
	}
}

// TestCoverageIsTheArea fills shapes of known area: summed over all pixels, ink is area.
func TestCoverageIsTheArea(t *testing.T) {
	ink := func(points [][2]float64) (sum float64) {
		img := image.NewRGBA(image.Rect(0, 0, 60, 50))
		for i := range img.Pix {
			img.Pix[i] = 255
		}
		o := newOutline()
		o.polygon(points)
		o.fill(img, color.RGBA{A: 255}, 255)
		for i := 0; i < len(img.Pix); i += 4 {
			sum += float64(255-img.Pix[i]) / 255
		}
		return sum
	}
	require.InDelta(t, 10.5*7.25, ink([][2]float64{{3.25, 4.5}, {13.75, 4.5}, {13.75, 11.75}, {3.25, 11.75}}), 0.15)
	require.InDelta(t, 0.5*31*23, ink([][2]float64{{5, 5}, {36, 9}, {5, 28}}), 0.5) // base 23, height 31
	// Cut by every border of the picture, wound the other way: what is left is the picture.
	require.InDelta(t, 60*50, ink([][2]float64{{-100, -90}, {-80, 400}, {500, 300}, {400, -200}}), 1e-9)
	require.InDelta(t, 3.14159265*20*20, ink(circle(30, 25, 20)), 5) // 45 chords: 0.33 % less
	require.Zero(t, ink([][2]float64{{-30, 5}, {-5, 9}, {-20, 40}}))
}

func TestOddInputsAreDrawn(t *testing.T) {
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	for _, size := range [][2]int{{0, 0}, {1, 1}, {30, 400}, {400, 30}, {-5, 20}} {
		w, h := size[0], size[1]
		st := stationOf(4, 0)
		rect := image.Rect(0, 0, max(w, 0), max(h, 0))
		require.Equal(t, rect, Seam(w, h, Light(), 1, seamOf(9), 2).Rect)
		require.Equal(t, rect, Station(w, h, Light(), 1, seamOf(9).Seam, &st).Rect)
		require.Equal(t, rect, Histogram(w, h, Light(), 1, []float64{1}, nil, tol, shade.NewScale(tol)).Rect)
		require.Equal(t, rect, Ruler(w, h, Light(), 1, shade.NewScale(tol)).Rect)
	}
	require.NotNil(t, Seam(300, 150, Light(), 1, nil, -1))
	require.NotNil(t, Seam(300, 150, Light(), 0, &gapflush.Result{}, 7))
	require.NotNil(t, Station(300, 200, Light(), 1, gapflush.Seam{}, nil))
	require.NotNil(t, Station(300, 200, Light(), 1, gapflush.Seam{}, &gapflush.Station{}))
	none := seamOf(5)
	for i := range none.Stations {
		none.Stations[i].Gap, none.Stations[i].Flush = verdict.Value{}, verdict.Value{}
	}
	none.Seam.Gap.HasNominal = false
	noOverlap(t, drawSeam(600, 170, Light(), 1, none, 1))
	noOverlap(t, drawHistogram(600, 170, Light(), 1, nil, nil, tol, shade.NewScale(tol)))
}

func TestNumbersReadWell(t *testing.T) {
	require.Equal(t, "−1.50", signed(-1.5, 2))
	require.Equal(t, "+0.25", signed(0.25, 2))
	require.Equal(t, "0.00", signed(0.001, 2))
	require.Equal(t, "0.00", number(-0.001, 2))
	require.Equal(t, "4.62 ± 0.08", withU(verdict.Value{V: 4.6213, U: 0.081, OK: true}, false))
	require.Equal(t, "no value", withU(verdict.Value{V: 3}, true))
	require.Equal(t, "under 0.1 %", percent(0.0001))
	values, places := ticks(-1.1, 1.1, 5)
	require.InDeltaSlice(t, []float64{-1, -0.5, 0, 0.5, 1}, values, 1e-12)
	require.Equal(t, 1, places)
	require.Equal(t, 200.0, barLength(243))
	require.Equal(t, 0.5, barLength(0.99))
}

func TestLongNamesAreShortenedInTheMiddle(t *testing.T) {
	s := newSheet(200, 50, Light(), 1)
	name := "left front wing to left sliding door, upper half above the swage line"
	short := s.shorten(large, bold, name, 180)
	require.LessOrEqual(t, s.width(large, bold, short), 180.0)
	require.Contains(t, short, "…")
	require.Equal(t, name[:4], short[:4])
	require.Equal(t, name[len(name)-4:], short[len(short)-4:])
	require.Empty(t, s.shorten(large, bold, name, 3))
	long := seamOf(12)
	long.Seam.Name = name + ", " + name
	noOverlap(t, drawSeam(420, 150, Light(), 1, long, 3))
}

func BenchmarkSeam(b *testing.B) {
	r := seamOf(46)
	for b.Loop() {
		Seam(1100, 170, Light(), 1, r, 5)
	}
}
