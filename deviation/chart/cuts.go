package chart

import (
	"image"

	"shutline/deviation/crosscut"
	"shutline/deviation/shade"
)

// Cuts draws where planes cut the scan over a picture of it, in place: each curve as a line with a light rim, where the part does not
// hide it, with the section's name where there is room; none stands in what is covered, in pixels.
func Cuts(img *image.RGBA, pic *shade.Picture, sections []*crosscut.Section, covered []image.Rectangle, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	s.keepOff(covered)
	cam := pic.Camera
	w, h := img.Rect.Dx(), img.Rect.Dy()
	if !(cam.Height > 0) || w == 0 || h == 0 {
		return
	}
	// A curve lies on the skin. Within a pixel, what is drawn there may rise steeply.
	slack := cutSlack + float64(cutPixels*cam.MMPerPixel(h))
	for _, cut := range sections {
		if cut == nil {
			continue
		}
		var longest [][2]float64
		for i := range cut.Scan {
			for _, run := range s.cutLine(pic, &cut.Scan[i], slack, w, h) {
				if len(run) > len(longest) {
					longest = run
				}
			}
		}
		s.nameCut(cut.Spec.Name, longest)
	}
}

// nameCut writes a section's name beside its line, at about a third of what is seen of it, or where there is room.
func (s *sheet) nameCut(name string, run [][2]float64) {
	var list []int
	for i, q := range run {
		if q[0] >= 0 && q[1] >= 0 && q[0] <= s.w && q[1] <= s.h {
			list = append(list, i)
		}
	}
	if name == "" || len(list) == 0 {
		return
	}
	text := s.shorten(small, bold, name, s.px(longestName))
	wide, tall, off := s.width(small, bold, text), s.px(7), s.px(6)
	for _, i := range outward(list, len(list)/3) {
		for _, b := range [...]slot{
			{run[i][0] + off, run[i][1] - tall, run[i][0] + off + wide, run[i][1] + tall},
			{run[i][0] - off - wide, run[i][1] - tall, run[i][0] - off, run[i][1] + tall},
			{run[i][0] - float64(wide/2), run[i][1] - off - float64(2*tall), run[i][0] + float64(wide/2), run[i][1] - off},
		} {
			if !s.free(b, run) {
				continue
			}
			s.wash(b.x0-s.px(2), b.y0, b.x1+s.px(2), b.y1, s.th.Paper, 200)
			s.text(b.x0, float64((b.y0+b.y1)/2)+s.px(4), small, bold, s.th.Ink, leftOf, text)
			s.taken = append(s.taken, b)
			return
		}
	}
}

// cutSlack, in mm, is what a stand-in that is drawn while the view moves may stand before the skin; cutPixels is how much
// deeper than a pixel is wide the skin may fall within it.
const (
	cutSlack  = 3
	cutPixels = 4
)

// cutLine draws the stretches of a curve that are seen, the rims of all first, and returns them.
func (s *sheet) cutLine(pic *shade.Picture, c *crosscut.Curve, slack float64, w, h int) (runs [][][2]float64) {
	places := c.Places
	if c.Closed && len(places) > 0 {
		places = append(places[:len(places):len(places)], places[0])
	}
	var run [][2]float64
	end := func() {
		if len(run) > 1 {
			runs = append(runs, run)
		}
		run = nil
	}
	var last [2]float64
	for i, p := range places {
		if pic.Hidden(p, slack) {
			end()
			continue
		}
		at := [2]float64{}
		at[0], at[1], _ = pic.Camera.Project(p, w, h)
		// A curve holds several places a pixel.
		if len(run) > 0 && i < len(places)-1 && hypot(at[0]-last[0], at[1]-last[1]) < 1 {
			continue
		}
		run, last = append(run, at), at
	}
	end()
	for _, r := range runs {
		s.stroke(r, 3.4, s.th.Paper)
	}
	for _, r := range runs {
		s.stroke(r, 1.6, s.th.Accent)
	}
	return runs
}
