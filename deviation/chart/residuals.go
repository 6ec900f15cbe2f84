package chart

import (
	"fmt"
	"image"
	"math"

	"shutline/deviation/align"
)

// Residuals draws how far the points that were offered to a placement lie from the reference once it
// is found: proud to the right, in mm. What carries the placement lies in the heap in
// the middle; what the fit left aside is counted in words.
func Residuals(w, h int, th Theme, scale float64, r align.Residuals) *image.RGBA {
	s := newSheet(w, h, th, scale)
	left, right := s.px(histLeft), s.w-s.px(16)
	top, bottom := s.px(histTop), s.h-s.px(histBottom)
	if bottom-top < s.px(16) || right-left < s.px(80) {
		return s.img
	}
	total, most := r.Below+r.Above+r.Unpaired, 0
	for _, n := range r.Count {
		total, most = total+n, max(most, n)
	}
	if most == 0 || !(r.Width > 0) {
		s.text(s.w/2, s.h/2, normal, regular, th.Faint, middleOf, "no point near the reference")
		return s.img
	}
	bins := float64(len(r.Count))
	reach := float64(r.Width*bins) / 2
	x := func(mm float64) float64 { return left + float64((right-left)*(float64(mm/reach)+1)/2) }
	for i, n := range r.Count {
		if n == 0 {
			continue
		}
		from := float64(r.Width * (float64(i) - bins/2))
		height := max(s.hair(), (bottom-top-s.px(4))*float64(n)/float64(most))
		s.rect(x(from), bottom-height, x(from+r.Width)-s.hair(), bottom, th.Line)
	}
	s.vline(x(0), top, bottom, th.Faint)
	s.hline(left, right, bottom, th.Faint)
	const axis = "from the reference, mm"
	free := right - s.width(small, regular, axis) - s.px(24) // to the left of the axis' own words
	values, places := ticks(-reach, reach, max(2, int((right-left)/s.px(64))))
	for _, v := range values {
		s.vline(x(v), bottom, bottom+s.px(4), th.Faint)
		if x(v) < free && math.Abs(v) < reach {
			s.text(x(v), bottom+s.px(16), small, regular, th.Faint, middleOf, signed(v, places))
		}
	}
	s.text(right, bottom+s.px(16), small, regular, th.Faint, rightOf, axis)
	share := func(n int) string { return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(total)) }
	const title = "What is left after placing"
	s.text(left, s.px(15), normal, regular, th.Ink, leftOf, title)
	room := right - left - s.width(normal, regular, title) - s.px(16)
	for _, aside := range []string{
		fmt.Sprintf("%s lower, %s prouder than shown, %s with nothing of the reference to lie on", share(r.Below), share(r.Above), share(r.Unpaired)),
		fmt.Sprintf("%s lower, %s prouder, %s beside it", share(r.Below), share(r.Above), share(r.Unpaired)),
	} {
		if s.width(small, regular, aside) <= room {
			s.text(right, s.px(15), small, regular, th.Faint, rightOf, aside)
			break
		}
	}
	return s.img
}
