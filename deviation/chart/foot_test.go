package chart

import (
	"image/color"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

func TestAFootLeavesThePictureAlone(t *testing.T) {
	img := Seam(420, 150, Light(), 1, seamOf(12), -1)
	line := "Left wing  ·  scan scan.stl 0123456789ab  ·  reference reference.stl fedcba987654  ·  shutline 1.2.3"
	s := withFoot(img, []string{line}, Light(), 1)
	require.Equal(t, 420, s.img.Rect.Dx())
	require.Greater(t, s.img.Rect.Dy(), 150)
	require.Equal(t, img.Pix, s.img.Pix[:len(img.Pix)])
	noOverlap(t, s)
	words := ""
	for _, w := range s.texts {
		words += w.text + " "
	}
	require.Equal(t, strings.Fields(line), strings.Fields(words), "broken into rows, nothing left out")
	require.Equal(t, img, WithFoot(img, nil, Light(), 1))
}

// Hatched zones of one station say why as well as wide ones.
func TestEveryHatchedZoneHasAReason(t *testing.T) {
	s := drawSeam(1600, 900, Light(), 2, seamOf(34), -1)
	keep(t, "seam-reasons", s.img)
	noOverlap(t, s)
	said := map[string]int{}
	for _, w := range s.texts {
		said[w.text]++
	}
	require.Equal(t, 1, said[string(gapflush.NoseUnseen)], "flush is known there")
	require.Equal(t, 2, said[string(gapflush.Bridged)])
	none := seamOf(34)
	none.Seam.Gap.HasNominal = false
	s = drawSeam(1600, 900, Light(), 2, none, -1)
	noOverlap(t, s)
	said = map[string]int{}
	for _, w := range s.texts {
		said[w.text]++
	}
	require.NotZero(t, said["no nominal, not judged"], "a band that ends has a reason")
}

func TestASeamsAxisHasAScale(t *testing.T) {
	flat := seamOf(12)
	for i := range flat.Stations {
		flat.Stations[i].Gap.V = 4.01
	}
	flat.Seam.Gap.Judged = false
	s := drawSeam(420, 150, Light(), 1, flat, -1)
	noOverlap(t, s)
	labels := 0
	for _, w := range s.texts {
		if w.x1 <= seamLeft && w.x1 > seamLeft-10 && w.y1 < 25+52 {
			labels++
		}
	}
	require.GreaterOrEqual(t, labels, 2)
}

// Values past the colours are marked at the end they pass, and hidden stations are counted.
func TestTheRulerMarksWhatLiesBeyond(t *testing.T) {
	m, mm, known := skin(60)
	sc := shade.NewScale(verdict.Tolerance{Lo: -0.5, Hi: 0.5})
	model := shade.NewModel(m, nil)
	model.Paint(mm, known, sc)
	cam, _ := HeatCamera("left", model.Box(), 1200, 800, 1)
	pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), 1200, 800, 0)
	seam := seamOf(12)
	for i := range seam.Stations {
		seam.Stations[i].P, seam.Stations[i].U = m.Vertices[(i+2)*4*61+30], geom.Vec{Y: -1}
	}
	seam.Stations[3].U, seam.Stations[4].U = geom.Vec{Y: 1}, geom.Vec{Y: 1} // outside turned away
	info := HeatInfo{Title: "t", View: "left", Seams: []*gapflush.Result{seam},
		Lowest: verdict.Value{V: -0.9, OK: true}, Highest: verdict.Value{V: 2.26, OK: true}}
	s := drawHeat(pic, cam, sc, info, Light(), 1)
	keep(t, "heat-beyond", s.img)
	noOverlap(t, s)
	said := ""
	for _, w := range s.texts {
		said += w.text + "\n"
	}
	require.Contains(t, said, "beyond: +2.26 mm")
	require.NotContains(t, said, "beyond: −", "−0.90 is on the ruler")
	require.Contains(t, said, "10 of 12, others hidden")
}

func TestUpwardTextIsTheSameInk(t *testing.T) {
	ink := func(draw func(s *sheet)) (sum float64) {
		s := newSheet(200, 200, Light(), 1)
		draw(s)
		for i := 0; i < len(s.img.Pix); i += 4 {
			sum += float64(255 - s.img.Pix[i])
		}
		return sum
	}
	black := color.RGBA{A: 255}
	level := ink(func(s *sheet) { s.text(100, 100, 20, regular, black, middleOf, "nose-unseen") })
	upward := ink(func(s *sheet) { s.upText(100, 100, 20, regular, black, "nose-unseen") })
	require.InEpsilon(t, level, upward, 0.01)
}
