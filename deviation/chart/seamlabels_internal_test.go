package chart

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// upright is a seam of 20 stations straight up through a picture at x, 20 pixels apart.
func upright(name string, x float64) drawnSeam {
	d := drawnSeam{r: seamOf(20), project: func(p geom.Vec) [2]float64 { return [2]float64{p.X, 500 - p.Z} }}
	d.r.Seam.Name = name
	for i := range d.r.Stations {
		st := &d.r.Stations[i]
		st.P, st.A = geom.Vec{X: x, Z: 20 * float64(i)}, geom.Vec{X: 1}
		d.at, d.list = append(d.at, d.project(st.P)), append(d.list, i)
	}
	return d
}

// Of a seam that lies beside the picture nothing is written in it: its name would stand at another.
func TestASeamOutOfThePictureHasNoLabel(t *testing.T) {
	for _, x := range []float64{-300, 1500} {
		s := newSheet(800, 600, Light(), 1)
		s.labelSeams([]drawnSeam{upright("near", 400), upright("elsewhere", x)}, true)
		require.Contains(t, said(s), "near")
		require.NotContains(t, said(s), "elsewhere")
		noOverlap(t, s)
	}
}

// No label stands under what floats over a picture.
func TestLabelsKeepOffWhatIsCovered(t *testing.T) {
	covered := image.Rect(405, 90, 800, 480)
	d := upright("near", 400)
	img := image.NewRGBA(image.Rect(0, 0, 800, 600))
	before := append([]uint8(nil), img.Pix...)
	with := func(list []image.Rectangle) (inside int) {
		copy(img.Pix, before)
		s := overSheet(img, Light(), 1)
		s.keepOff(list)
		s.labelSeams([]drawnSeam{d}, true)
		for y := covered.Min.Y; y < covered.Max.Y; y++ {
			for x := covered.Min.X; x < covered.Max.X; x++ {
				if img.RGBAAt(x, y).A != 0 {
					inside++
				}
			}
		}
		require.Contains(t, said(s), "near")
		return inside
	}
	require.NotZero(t, with(nil))
	require.Zero(t, with([]image.Rectangle{covered}))
}
