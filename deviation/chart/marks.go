package chart

import (
	"image"

	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// Mark is a point that a hand has set on a part, with a number or a short name.
type Mark struct {
	At     geom.Vec // mm
	Label  string
	Chosen bool // drawn heavier
	Doubt  bool // drawn in the colour of what does not fit
}

// markHidden, in mm, is how far a mark may lie behind what is drawn there and still count as seen.
const markHidden = 3

// Marks draws marks over a picture of the part, in place. Those that the part
// covers are drawn thin and without their label.
func Marks(img *image.RGBA, pic *shade.Picture, cam shade.Camera, list []Mark, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	w, h := img.Rect.Dx(), img.Rect.Dy()
	if !(cam.Height > 0) || w == 0 || h == 0 {
		return
	}
	for _, m := range list {
		x, y, _ := cam.Project(m.At, w, h)
		c := th.Accent
		if m.Doubt {
			c = th.Bad
		}
		if pic.Hidden(m.At, markHidden) {
			s.ring(x, y, 5, 1, c)
			continue
		}
		width := 2.2
		if m.Chosen {
			width = 3.4
		}
		s.ring(x, y, 7, width+2, th.Paper)
		s.ring(x, y, 7, width, c)
		s.dot(x, y, 1.4, c)
		if m.Label == "" {
			continue
		}
		wide := s.width(small, bold, m.Label) + s.px(8)
		left, top := x+s.px(10), y-s.px(21)
		s.rect(left, top, left+wide, top+s.px(16), c)
		s.text(left+s.px(4), top+s.px(12), small, bold, th.Paper, leftOf, m.Label)
	}
}

// CallOuts draws call-outs over a picture of the part, in place, their labels on
// the picture's empty ground inside the given part of it (pixels). Where spread
// is false the labels stand at the places themselves, which costs little while a view moves.
func CallOuts(img *image.RGBA, pic *shade.Picture, list []CallOut, room image.Rectangle, spread bool, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	cam := pic.Camera
	if spread {
		s.callOuts(pic, cam, list, slot{float64(room.Min.X), float64(room.Min.Y), float64(room.Max.X), float64(room.Max.Y)})
		return
	}
	for _, c := range list {
		if !(cam.Height > 0) || !c.At.IsFinite() || pic.Hidden(c.At, labelSlack) {
			continue
		}
		x, y, _ := cam.Project(c.At, img.Rect.Dx(), img.Rect.Dy())
		s.dot(x, y, 3.4, th.Paper)
		s.dot(x, y, 2.2, th.verdictColor(c.Verdict))
		s.text(x+s.px(5), y-s.px(4), small, bold, th.Ink, leftOf, s.shorten(small, bold, c.Label, s.px(longestLabel)))
	}
}
