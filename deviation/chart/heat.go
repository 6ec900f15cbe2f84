package chart

import (
	"image"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// HeatInfo is what a heat picture says in words, and the seams drawn over it.
type HeatInfo struct {
	Title, View string
	Lines       []Line             // figures and counts by state, in the order shown
	Seams       []*gapflush.Result // drawn as lines with their stations' verdicts
	Selected    *gapflush.Station  // marked, or nil
	// Lowest and Highest are the extremes, mm: beyond the ruler's ends they are written at them.
	Lowest, Highest verdict.Value
}

// Line is a label and its value, with the unit: {"RMS", "0.21 mm"}.
type Line struct{ Label, Value string }

// What a heat picture's words take up, in layout units.
const (
	heatTop, heatSide, heatBottom = 48, 226, 34
	rulerHeight                   = 210
)

// HeatCamera returns the named view fitted to the room that Heat leaves free in
// a picture of w by h pixels; false for a name that shade.ViewOf does not know.
func HeatCamera(name string, box geom.Box, w, h int, scale float64) (shade.Camera, bool) {
	right, top, bottom := heatSide*scale, heatTop*scale, heatBottom*scale
	fw, fh := float64(w)-right, float64(h)-top-bottom
	if fw <= 0 || fh <= 0 {
		return shade.ViewOf(name, box, 1)
	}
	c, ok := shade.ViewOf(name, box, fw/fh)
	return c.Inset(w, h, 0, top, right, bottom), ok
}

// Heat composes an exported picture of pic's size: the part, the title, the
// ruler of colours, the scale bar, the figures and the seams. Draw pic with a
// camera of HeatCamera, so that the words stand beside the part.
func Heat(pic *shade.Picture, cam shade.Camera, sc shade.Scale, info HeatInfo, th Theme, scale float64) *image.RGBA {
	return drawHeat(pic, cam, sc, info, th, scale).img
}

func drawHeat(pic *shade.Picture, cam shade.Camera, sc shade.Scale, info HeatInfo, th Theme, scale float64) *sheet {
	img := image.NewRGBA(pic.Image.Rect)
	copy(img.Pix, pic.Image.Pix)
	s := overSheet(img, th, scale)
	if s.w < 2*heatSide*s.k || s.h < 200*s.k {
		return s
	}
	shown, all := s.seams(pic, cam, info.Seams, info.Selected, true)
	left := s.w - heatSide*s.k
	s.rect(left, 0, s.w, s.h, th.Panel)
	s.vline(left, 0, s.h, th.Grid)
	room := left - 32*s.k
	s.text(16*s.k, 24*s.k, 16, bold, th.Ink, leftOf, s.shorten(16, bold, info.Title, room))
	s.text(16*s.k, 42*s.k, small, regular, th.Faint, leftOf, s.shorten(small, regular, "view: "+info.View, room))
	s.bar(16*s.k, s.h-14*s.k, s.h/cam.Height, min(160*s.k, s.w/5), th.Panel)
	if all > 0 {
		line := Line{"stations drawn", count(shown) + " of " + count(all)}
		if shown < all {
			line.Value += ", others hidden"
		}
		info.Lines = append([]Line{line}, info.Lines...)
	}
	s.heatPanel(left+16*s.k, sc, info)
	return s
}

// heatPanel writes the ruler, what the colours and marks mean, and the figures.
func (s *sheet) heatPanel(x float64, sc shade.Scale, info HeatInfo) {
	right, y := s.w-14*s.k, 28*s.k
	height := min(rulerHeight*s.k, s.h*0.38)
	s.upright(x, y+10*s.k, y+height, sc)
	s.beyond(x, right, y, height, sc, info)
	words := x + 86*s.k
	s.text(words, y+14*s.k, small, regular, s.th.Faint, leftOf, s.shorten(small, regular, "stands proud", right-words))
	s.text(words, y+10*s.k+(height-10*s.k)/2+4*s.k, small, regular, s.th.Faint, leftOf, s.shorten(small, regular, "in tolerance", right-words))
	s.text(words, y+height+4*s.k, small, regular, s.th.Faint, leftOf, s.shorten(small, regular, "lies low", right-words))
	y += height + 26*s.k
	s.swatch(x, y)
	s.text(x+24*s.k, y, small, regular, s.th.Faint, leftOf, "no number")
	y += 12 * s.k
	if len(info.Seams) > 0 {
		y += s.markLegend(x, y+12*s.k)
	}
	s.hline(x, right, y, s.th.Grid)
	y += 20 * s.k
	for _, l := range info.Lines {
		if y > s.h-10*s.k {
			return
		}
		value := s.shorten(small, regular, l.Value, (right-x)*0.8)
		s.text(right, y, small, regular, s.th.Ink, rightOf, value)
		s.text(x, y, small, regular, s.th.Faint, leftOf, s.shorten(small, regular, l.Label, right-x-s.width(small, regular, value)-6*s.k))
		y += 17 * s.k
	}
}

// beyond marks the ends of the ruler that values go past, and how far they go.
func (s *sheet) beyond(x, right, y, height float64, sc shade.Scale, info HeatInfo) {
	reach, wide := rulerReach(sc), 16*s.k
	words := x + 86*s.k
	for _, e := range []struct {
		v          verdict.Value
		past       bool
		tip, depth float64 // pixels: where the arrow ends, and how it points
		row        float64
	}{
		{info.Highest, info.Highest.V > reach, y + 4*s.k, 5 * s.k, y + 28*s.k},
		{info.Lowest, info.Lowest.V < -reach, y + height + 6*s.k, -5 * s.k, y + height - 10*s.k},
	} {
		if !e.v.OK || !e.past {
			continue
		}
		end := sc.Limit
		if e.v.V < 0 {
			end = -end
		}
		s.area([][2]float64{{x, e.tip + e.depth}, {x + wide, e.tip + e.depth}, {x + wide/2, e.tip}}, sc.Color(end), 255)
		text := "beyond: " + signed(e.v.V, 2) + " mm"
		s.text(words, e.row, small, regular, s.th.Ink, leftOf, s.shorten(small, regular, text, right-words))
	}
}

// swatch shows the hatch of what has no number.
func (s *sheet) swatch(x, y float64) {
	ground, lines := rgb(0x8e9398), rgb(0x52585e)
	for row := range int(10 * s.k) {
		for col := range int(16 * s.k) {
			c := ground
			if (row+col)%7 < 2 {
				c = lines
			}
			px, py := x+float64(col), y-9*s.k+float64(row)
			s.rect(px, py, px+1, py+1, c)
		}
	}
}

// Overlay draws the seams and their stations over a picture of the part, in
// place. Stations whose outside faces away from the viewer are left out.
func Overlay(img *image.RGBA, pic *shade.Picture, cam shade.Camera, seams []*gapflush.Result, selected *gapflush.Station, th Theme, scale float64) {
	overSheet(img, th, scale).seams(pic, cam, seams, selected, false)
}

// ScaleBar draws a bar of a round length in mm into the lower left corner of a picture, in place.
func ScaleBar(img *image.RGBA, cam shade.Camera, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	if cam.Height > 0 && s.h > 0 {
		s.bar(14*s.k, s.h-12*s.k, s.h/cam.Height, min(160*s.k, s.w/5), th.Panel)
	}
}
