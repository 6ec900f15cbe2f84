package chart

import (
	"image"

	"shutline/deviation/crosscut"
	"shutline/deviation/shade"
)

// Cuts draws where planes cut the scan over a picture of it, in place: each curve as a line with a light rim, where the part does not hide it.
func Cuts(img *image.RGBA, pic *shade.Picture, sections []*crosscut.Section, th Theme, scale float64) {
	s := overSheet(img, th, scale)
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
		for i := range cut.Scan {
			s.cutLine(pic, &cut.Scan[i], slack, w, h)
		}
	}
}

// cutSlack, in mm, is what a stand-in that is drawn while the view moves may stand before the skin; cutPixels is how much
// deeper than a pixel is wide the skin may fall within it.
const (
	cutSlack  = 3
	cutPixels = 4
)

// cutLine draws the stretches of a curve that are seen, the rims of all first.
func (s *sheet) cutLine(pic *shade.Picture, c *crosscut.Curve, slack float64, w, h int) {
	places := c.Places
	if c.Closed && len(places) > 0 {
		places = append(places[:len(places):len(places)], places[0])
	}
	var runs [][][2]float64
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
}
