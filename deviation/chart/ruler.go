package chart

import (
	"image"
	"math"

	"shutline/deviation/shade"
)

// Ruler draws the ruler of colours: the scale with the tolerance band as a gap
// in the colour, and what the hatch means. It stands upright in a picture higher than wide, else lies.
func Ruler(w, h int, th Theme, scale float64, sc shade.Scale) *image.RGBA {
	s := newSheet(w, h, th, scale)
	if s.h > s.w {
		s.upright(s.px(10), s.px(24), s.h-s.px(34), sc, RulerWords{}.filled().Title)
		s.swatch(s.px(10), s.h-s.px(10))
		s.text(s.px(34), s.h-s.px(10), small, regular, th.Faint, leftOf, "no value")
	} else {
		s.lying(s.px(22), s.w-s.px(22), s.px(8), sc)
	}
	return s.img
}

// rulerReach returns where the ruler ends on both sides.
func rulerReach(sc shade.Scale) float64 {
	reach := sc.Limit
	for _, t := range []float64{sc.Tolerance.Lo, sc.Tolerance.Hi} {
		if !math.IsInf(t, 0) {
			reach = max(reach, math.Abs(t))
		}
	}
	if !(reach > 0) || math.IsInf(reach, 0) {
		return 1
	}
	return reach
}

// rulerLabels returns the values named beside the ruler, the limits of tolerance first.
func rulerLabels(sc shade.Scale) []float64 {
	reach := rulerReach(sc)
	labels := []float64{}
	for _, t := range []float64{sc.Tolerance.Lo, sc.Tolerance.Hi, reach, -reach} {
		if math.Abs(t) <= reach {
			labels = append(labels, t)
		}
	}
	values, _ := ticks(-reach, reach, 8)
	return append(labels, values...)
}

// upright draws the ruler with its top at the positive end.
func (s *sheet) upright(x, top, bottom float64, sc shade.Scale, title string) {
	reach, wide := rulerReach(sc), s.px(16)
	y := func(mm float64) float64 { return bottom - (bottom-top)*(mm+reach)/(2*reach) }
	s.text(x, top-s.px(9), small, regular, s.th.Faint, leftOf, title)
	for row := math.Floor(top); row < bottom; row++ {
		mm := float64((bottom-row-0.5)/(bottom-top)*2*reach) - reach
		mm = max(-reach, min(reach, mm))
		if sc.Inside(mm) {
			s.rect(x+float64(wide*0.3), row, x+float64(wide*0.7), row+1, sc.Color(mm))
		} else {
			s.rect(x, row, x+wide, row+1, sc.Color(mm))
		}
	}
	var used []float64
	for i, mm := range rulerLabels(sc) {
		at := y(mm)
		if crowded(used, at, s.px(13)) {
			continue
		}
		used = append(used, at)
		s.line(x+wide, at, x+wide+s.px(4), at, 1, s.th.Faint)
		w, c := regular, s.th.Faint
		if i < 2 {
			w, c = bold, s.th.Ink
		}
		s.text(x+wide+s.px(8), at+s.px(4), small, w, c, leftOf, signed(mm, 2))
	}
}

// lying draws the ruler with its right end positive.
func (s *sheet) lying(left, right, y float64, sc shade.Scale) {
	reach, high := rulerReach(sc), s.px(10)
	x := func(mm float64) float64 { return left + (right-left)*(mm+reach)/(2*reach) }
	for col := math.Floor(left); col < right; col++ {
		mm := max(-reach, min(reach, float64((col+0.5-left)/(right-left)*2*reach)-reach))
		if sc.Inside(mm) {
			s.rect(col, y+float64(high*0.3), col+1, y+float64(high*0.7), sc.Color(mm))
		} else {
			s.rect(col, y, col+1, y+high, sc.Color(mm))
		}
	}
	var used []float64
	for i, mm := range rulerLabels(sc) {
		at, text := x(mm), signed(mm, 2)
		if crowded(used, at, s.px(46)) {
			continue
		}
		used = append(used, at)
		s.line(at, y+high, at, y+high+s.px(3), 1, s.th.Faint)
		w, c := regular, s.th.Faint
		if i < 2 {
			w, c = bold, s.th.Ink
		}
		if i == 2 {
			text += " mm"
		}
		half := float64(s.width(small, w, text) / 2)
		s.text(max(half+2, min(s.w-half-2, at)), y+high+s.px(14), small, w, c, middleOf, text)
	}
}

// crowded reports whether a label would stand nearer than room to another.
func crowded(used []float64, at, room float64) bool {
	for _, u := range used {
		if math.Abs(u-at) < room {
			return true
		}
	}
	return false
}
