package chart

import (
	"image"
	"image/draw"
)

// footRow is the height of a line of a foot, in layout units.
const footRow = 16

// WithFoot returns a picture with lines of small print below it, so that it says
// what it was made from wherever it ends up. A line that is too wide is broken.
func WithFoot(img *image.RGBA, lines []string, th Theme, scale float64) *image.RGBA {
	return withFoot(img, lines, th, scale).img
}

func withFoot(img *image.RGBA, lines []string, th Theme, scale float64) *sheet {
	above := overSheet(img, th, scale)
	left, room := above.px(12), above.w-above.px(24)
	var rows []string
	for _, l := range lines {
		rows = append(rows, above.broken(small, l, room)...)
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	high := int((float64(len(rows)*footRow) + 10) * above.k)
	if len(rows) == 0 || room < 40*above.k {
		return above
	}
	s := newSheet(w, h+high, th, scale)
	draw.Draw(s.img, image.Rect(0, 0, w, h), img, img.Rect.Min, draw.Src)
	s.rect(0, float64(h), s.w, s.h, th.Panel)
	s.hline(0, s.w, float64(h), th.Grid)
	for i, row := range rows {
		s.text(left, float64(h)+s.px(float64((i+1)*footRow)+1), small, regular, th.Faint, leftOf, row)
	}
	return s
}
