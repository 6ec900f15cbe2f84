package chart

import (
	"image"
	"math"

	"shutline/deviation/shade"
)

// Doubts composes an exported picture of a part painted with the uncertainty of
// its deviation, as Heat does for the deviation; half is half the tolerance's
// width in mm, beyond which nothing can be accepted, 0 for none.
func Doubts(pic *shade.Picture, cam shade.Camera, ramp shade.Ramp, half float64, info HeatInfo, th Theme, scale float64) *image.RGBA {
	s, seams, left := heatFrame(pic, cam, &info, th, scale)
	if left > 0 {
		s.labelSeams(seams, true)
		s.doubtPanel(left+s.px(16), ramp, half, info)
	}
	return s.img
}

func (s *sheet) doubtPanel(x float64, ramp shade.Ramp, half float64, info HeatInfo) {
	right, top := s.w-s.px(14), s.px(38)
	height := min(s.px(rulerHeight), s.h*0.38)
	bottom, wide := s.px(28)+height, s.px(16)
	s.text(x, top-s.px(9), small, regular, s.th.Faint, leftOf, "uncertainty U (k = 2), mm")
	for row := math.Floor(top); row < bottom; row++ {
		mm := float64((bottom - row - 0.5) / (bottom - top) * ramp.Limit)
		s.rect(x, row, x+wide, row+1, ramp.Color(max(0, min(ramp.Limit, mm))))
	}
	y := func(mm float64) float64 { return bottom - float64((bottom-top)*mm/ramp.Limit) }
	var used []float64
	if half > 0 && half <= ramp.Limit {
		at := y(half)
		used = append(used, at)
		s.line(x, at, x+wide+s.px(4), at, 1.4, s.th.Ink)
		s.text(x+wide+s.px(8), at+s.px(4), small, bold, s.th.Ink, leftOf, s.shorten(small, bold, number(half, 2)+" half the tolerance", right-x-wide-s.px(8)))
	}
	values, places := ticks(0, ramp.Limit, 5)
	for _, mm := range values {
		at := y(mm)
		if mm < 0 || mm > ramp.Limit || crowded(used, at, s.px(13)) {
			continue
		}
		s.line(x+wide, at, x+wide+s.px(4), at, 1, s.th.Faint)
		s.text(x+wide+s.px(8), at+s.px(4), small, regular, s.th.Faint, leftOf, number(mm, places))
	}
	at := bottom + s.px(26)
	s.swatch(x, at)
	s.text(x+s.px(24), at, small, regular, s.th.Faint, leftOf, "no deviation, or none with a U")
	at += s.px(12)
	s.hline(x, right, at, s.th.Grid)
	s.heatLines(x, right, at+s.px(20), info.Lines)
}
