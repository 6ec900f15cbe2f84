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
	CallOuts    []CallOut          // drawn with labels beside the part, in order of importance
	Ruler       RulerWords         // of the ruler of colours; the zero value: a deviation's
	Mark        string             // written large in a band across the picture, for what must not be taken for a result
	// Lowest and Highest are the extremes, mm: beyond the ruler's ends they are written at them.
	Lowest, Highest verdict.Value
}

// RulerWords say what the ruler of colours shows, and its ends and middle.
type RulerWords struct{ Title, High, Inside, Low string }

func (r RulerWords) filled() RulerWords {
	if r == (RulerWords{}) {
		return RulerWords{"deviation, mm", "stands proud", "in tolerance", "lies low"}
	}
	return r
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
	right, top, bottom := float64(heatSide*scale), float64(heatTop*scale), float64(heatBottom*scale)
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
	s, seams, left := heatFrame(pic, cam, &info, th, scale)
	if left <= 0 {
		return s
	}
	if all := len(info.CallOuts); all > 0 {
		room := slot{s.px(10), s.px(heatTop) + s.px(6), left - s.px(10), s.h - s.px(heatBottom)}
		line := Line{"places called out", count(s.callOuts(pic, cam, info.CallOuts, room)) + " of " + count(all)}
		info.Lines = append([]Line{line}, info.Lines...)
	}
	s.labelSeams(seams, true)
	s.heatPanel(left+s.px(16), sc, info)
	return s
}

// heatFrame lays the seams, the title, the scale bar and the panel's ground over a
// picture and adds to the lines how many stations are drawn; left is where the panel begins, 0 where the picture is too small for words.
// The seams are still to be labelled, see labelSeams.
func heatFrame(pic *shade.Picture, cam shade.Camera, info *HeatInfo, th Theme, scale float64) (s *sheet, seams []drawnSeam, left float64) {
	img := image.NewRGBA(pic.Image.Rect)
	copy(img.Pix, pic.Image.Pix)
	s = overSheet(img, th, scale)
	if s.w < s.px(2*heatSide) || s.h < s.px(200) {
		return s, nil, 0
	}
	seams, shown, all := s.seams(pic, cam, info.Seams, info.Selected, true)
	if all > 0 {
		line := Line{"stations drawn", count(shown) + " of " + count(all)}
		if shown < all {
			line.Value += ", others hidden"
		}
		info.Lines = append([]Line{line}, info.Lines...)
	}
	left = s.w - s.px(heatSide)
	s.rect(left, 0, s.w, s.h, th.Panel)
	s.vline(left, 0, s.h, th.Grid)
	room := left - s.px(110) // beside the axes
	s.text(s.px(16), s.px(24), 16, bold, th.Ink, leftOf, s.shorten(16, bold, info.Title, room))
	s.text(s.px(16), s.px(42), small, regular, th.Faint, leftOf, s.shorten(small, regular, "view: "+info.View, room))
	s.bar(s.px(16), s.h-s.px(14), s.h/cam.Height, min(s.px(160), s.w/5), th.Panel)
	s.triad(cam, left-s.px(46), s.px(29))
	if info.Mark != "" {
		s.band(info.Mark, left)
	}
	s.taken = append(s.taken, slot{0, 0, s.w, s.px(heatTop)}, slot{left, 0, s.w, s.h})
	return s, seams, left
}

// band writes words in a coloured band across the foot and the head of a picture, left of the panel.
func (s *sheet) band(words string, left float64) {
	const high = 26.0
	for _, top := range [2]float64{s.px(heatTop + 4), s.h - s.px(heatBottom+high)} {
		s.rect(0, top, left, top+s.px(high), s.th.Bad)
		s.text(s.px(16), top+s.px(18), 15, bold, s.th.Paper, leftOf, s.shorten(15, bold, words, left-s.px(32)))
	}
}

// heatPanel writes the ruler, what the colours and marks mean, and the figures.
func (s *sheet) heatPanel(x float64, sc shade.Scale, info HeatInfo) {
	right, y := s.w-s.px(14), s.px(28)
	height := min(s.px(rulerHeight), s.h*0.38)
	word := info.Ruler.filled()
	s.upright(x, y+s.px(10), y+height, sc, word.Title)
	s.beyond(x, right, y, height, sc, info)
	words := x + s.px(86)
	s.text(words, y+s.px(14), small, regular, s.th.Faint, leftOf, s.shorten(small, regular, word.High, right-words))
	s.text(words, y+s.px(10)+float64((height-s.px(10))/2)+s.px(4), small, regular, s.th.Faint, leftOf, s.shorten(small, regular, word.Inside, right-words))
	s.text(words, y+height+s.px(4), small, regular, s.th.Faint, leftOf, s.shorten(small, regular, word.Low, right-words))
	y += height + s.px(26)
	s.swatch(x, y)
	s.text(x+s.px(24), y, small, regular, s.th.Faint, leftOf, "no value")
	y += s.px(12)
	if len(info.Seams) > 0 {
		y += s.markLegend(x, y+s.px(12), info.Seams)
	}
	s.hline(x, right, y, s.th.Grid)
	y += s.px(20)
	s.heatLines(x, right, y, info.Lines)
}

// heatLines writes figures one below the other, as many as there is room for.
func (s *sheet) heatLines(x, right, y float64, lines []Line) {
	for _, l := range lines {
		if y > s.h-s.px(10) {
			return
		}
		value := s.shorten(small, regular, l.Value, (right-x)*0.8)
		s.text(right, y, small, regular, s.th.Ink, rightOf, value)
		s.text(x, y, small, regular, s.th.Faint, leftOf, s.shorten(small, regular, l.Label, right-x-s.width(small, regular, value)-s.px(6)))
		y += s.px(17)
	}
}

// beyond marks the ends of the ruler that values go past, and how far they go.
func (s *sheet) beyond(x, right, y, height float64, sc shade.Scale, info HeatInfo) {
	reach, wide := rulerReach(sc), s.px(16)
	words := x + s.px(86)
	for _, e := range []struct {
		v          verdict.Value
		past       bool
		tip, depth float64 // pixels: where the arrow ends, and how it points
		row        float64
	}{
		{info.Highest, info.Highest.V > reach, y + s.px(4), s.px(5), y + s.px(28)},
		{info.Lowest, info.Lowest.V < -reach, y + height + s.px(6), -s.px(5), y + height - s.px(10)},
	} {
		if !e.v.OK || !e.past {
			continue
		}
		end := sc.Limit
		if e.v.V < 0 {
			end = -end
		}
		s.area([][2]float64{{x, e.tip + e.depth}, {x + wide, e.tip + e.depth}, {x + float64(wide/2), e.tip}}, sc.Color(end), 255)
		text := "beyond: " + signed(e.v.V, 2) + " mm"
		s.text(words, e.row, small, regular, s.th.Ink, leftOf, s.shorten(small, regular, text, right-words))
	}
}

// swatch shows the hatch of what has no number.
func (s *sheet) swatch(x, y float64) {
	ground, lines := rgb(0x8e9398), rgb(0x52585e)
	for row := range int(s.px(10)) {
		for col := range int(s.px(16)) {
			c := ground
			if (row+col)%7 < 2 {
				c = lines
			}
			px, py := x+float64(col), y-s.px(9)+float64(row)
			s.rect(px, py, px+1, py+1, c)
		}
	}
}

// Overlay draws the seams and their stations over a picture of the part, in
// place. Stations whose outside faces away from the viewer or that lie behind the part are left out.
// Sides A and B are marked; numbers: stations have theirs where there is room. No label stands in what is covered, in pixels.
func Overlay(img *image.RGBA, pic *shade.Picture, cam shade.Camera, seams []*gapflush.Result, selected *gapflush.Station, numbers bool, covered []image.Rectangle, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	s.keepOff(covered)
	list, _, _ := s.seams(pic, cam, seams, selected, false)
	s.labelSeams(list, numbers)
}

// ScaleBar draws a bar of a round length in mm into the lower left corner of a picture, in place.
func ScaleBar(img *image.RGBA, cam shade.Camera, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	if cam.Height > 0 && s.h > 0 {
		s.bar(s.px(14), s.h-s.px(12), s.h/cam.Height, min(s.px(160), s.w/5), th.Panel)
	}
}
