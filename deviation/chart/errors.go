package chart

import (
	"cmp"
	"image"
	"image/color"
	"math"
	"slices"

	"shutline/deviation/verdict"
)

// LengthError is an error that was seen over a length, mm.
type LengthError struct {
	Name       string
	Over       float64 // the length over which it arose
	Error      verdict.Value
	Allowed    float64 // 0: nothing is said
	Verdict    verdict.Verdict
	Incidental bool // it does not count for the line
}

// Errors draws errors against the lengths over which they arose, each with its U, and
// the line that says what the scan may be off by: a plus perMetre for each metre, in mm, where hasLine.
// It grows up to a length of span mm, 0: without end. longest is the length of the part, mm.
func Errors(w, h int, th Theme, scale float64, list []LengthError, hasLine bool, a, perMetre, span, longest float64) *image.RGBA {
	s := newSheet(w, h, th, scale)
	left, right := s.px(histLeft), s.w-s.px(16)
	top, bottom := s.px(histTop), s.h-s.px(histBottom)
	if bottom-top < s.px(16) || right-left < s.px(80) {
		return s.img
	}
	far, most := longest, 0.0
	for _, e := range list {
		far = max(far, e.Over)
		most = max(most, math.Abs(e.Error.V)+e.Error.U, e.Allowed)
	}
	if !(far > 0) || len(list) == 0 && !hasLine {
		s.text(s.w/2, s.h/2, normal, regular, th.Faint, middleOf, "nothing tells how errors grow with length")
		return s.img
	}
	far *= 1.05
	at := func(mm float64) float64 {
		if span > 0 {
			mm = min(mm, span)
		}
		return a + float64(perMetre*mm)/1000
	}
	if hasLine {
		most = max(most, at(far)) // also where few tellers make it steep: it is what is said of the part's whole length
	}
	most = max(float64(1.1*most), 1e-3)
	x := func(mm float64) float64 { return left + float64((right-left)*(mm/far)) }
	y := func(mm float64) float64 {
		return float64((top+bottom)/2) - float64((bottom-top)/2*max(-1, min(1, mm/most)))
	}
	values, places := ticks(-most, most, max(2, int((bottom-top)/s.px(26))))
	if len(values) < 3 { // zero alone is no axis
		values, places = ticks(-most, most, 5)
	}
	for _, v := range values {
		s.hline(left, right, y(v), th.Grid)
		s.text(left-s.px(6), y(v)+s.px(4), small, regular, th.Faint, rightOf, signed(v, places))
	}
	if hasLine {
		s.reach(x, y, at, far)
	}
	s.hline(left, right, y(0), th.Faint)
	lengths, lengthPlaces := ticks(0, far, max(2, int((right-left)/s.px(80))))
	const axis = "over a length of, mm"
	free := right - s.width(small, regular, axis) - s.px(24)
	for _, v := range lengths {
		s.vline(x(v), bottom, bottom+s.px(4), th.Faint)
		if x(v) < free {
			s.text(x(v), bottom+s.px(16), small, regular, th.Faint, middleOf, number(v, lengthPlaces))
		}
	}
	s.text(right, bottom+s.px(16), small, regular, th.Faint, rightOf, axis)
	for _, e := range list {
		s.lengthError(e, x, y)
	}
	s.nameErrors(list, x, y, top, bottom)
	s.text(left, s.px(15), normal, regular, th.Ink, leftOf, "Error against length, mm")
	if hasLine {
		const between = "between the lines: what a length read in this scan may be off by (k = 2)"
		if s.width(small, regular, between)+s.px(16) < right-left-s.width(normal, regular, "Error against length, mm") {
			s.text(right, s.px(15), small, regular, th.Faint, rightOf, between)
		}
	}
	return s.img
}

// reach draws how far off a length may be, both ways.
func (s *sheet) reach(x, y, at func(float64) float64, far float64) {
	const steps = 64
	var upper, lower [][2]float64
	for k := range steps + 1 {
		mm := float64(far * float64(k) / steps)
		v := at(mm)
		upper, lower = append(upper, [2]float64{x(mm), y(v)}), append(lower, [2]float64{x(mm), y(-v)})
	}
	band := append([][2]float64{}, upper...)
	for k := len(lower) - 1; k >= 0; k-- {
		band = append(band, lower[k])
	}
	s.area(band, s.th.Ribbon, 90)
	s.stroke(upper, 1.4, s.th.Line)
	s.stroke(lower, 1.4, s.th.Line)
}

// lengthError draws one error with its U, and what is allowed there.
func (s *sheet) lengthError(e LengthError, x, y func(float64) float64) {
	px := x(e.Over)
	if e.Allowed > 0 {
		for _, v := range []float64{-e.Allowed, e.Allowed} {
			s.line(px-s.px(9), y(v), px+s.px(9), y(v), 1.6, s.th.Limit)
		}
	}
	c := s.th.Ink
	if e.Incidental {
		c = s.th.Faint
	}
	s.line(px, y(e.Error.V-e.Error.U), px, y(e.Error.V+e.Error.U), 1.4, c)
	for _, v := range []float64{e.Error.V - e.Error.U, e.Error.V + e.Error.U} {
		s.line(px-s.px(3), y(v), px+s.px(3), y(v), 1.4, c)
	}
	if e.Incidental {
		s.hollow(px, y(e.Error.V), 4)
	} else {
		s.mark(px, y(e.Error.V), 4, e.Verdict)
	}
}

// nameErrors writes the names of errors beside them, where they cover neither one another nor an error; a line leads to one that
// stands farther off. One that has no room is left out.
func (s *sheet) nameErrors(list []LengthError, x, y func(float64) float64, top, bottom float64) {
	var bars []slot
	for _, e := range list {
		half := s.px(5)
		bars = append(bars, slot{x(e.Over) - half, min(y(e.Error.V+e.Error.U), y(e.Error.V)-half), x(e.Over) + half, max(y(e.Error.V-e.Error.U), y(e.Error.V)+half)})
	}
	fits := func(b slot) bool {
		inside := b.x0 >= s.px(histLeft) && b.x1 <= s.w-s.px(16) && b.y0 >= top-s.px(2) && b.y1 <= bottom
		return inside && !slices.ContainsFunc(bars, b.overlaps) && !slices.ContainsFunc(s.taken, b.overlaps)
	}
	order := make([]int, len(list))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(list[b].Error.V, list[a].Error.V) })
	for _, k := range order {
		e := list[k]
		c := s.th.Ink
		if e.Incidental {
			c = s.th.Faint
		}
		name := s.shorten(small, regular, e.Name, s.px(longestLabel))
		px, py := x(e.Over), y(e.Error.V)
		s.nameError(name, px, py, c, fits)
	}
}

// nameError writes a name beside its point at px, py, in the nearest slot that fits, with a line to it from farther off; nowhere where none does.
func (s *sheet) nameError(name string, px, py float64, c color.RGBA, fits func(slot) bool) {
	const tall, step, far = 6.0, 6.0, 16
	wide := s.width(small, regular, name)
	for row := range 2 * far {
		up := float64((row+1)/2) * step
		if row%2 == 1 {
			up = -up
		}
		for _, away := range [...]float64{9, -9, 24, -24, 40, -40, 60, -60} {
			at := px + s.px(away)
			anchor, b := leftOf, slot{at, 0, at + wide, 0}
			if away < 0 {
				anchor, b = rightOf, slot{at - wide, 0, at, 0}
			}
			mid := py - s.px(up)
			b.y0, b.y1 = mid-s.px(tall), mid+s.px(tall)
			if !fits(b) {
				continue
			}
			if math.Abs(up) > step || math.Abs(away) > 9 {
				s.line(px, py, at-s.px(math.Copysign(3, away)), mid, 0.8, s.th.Faint)
			}
			s.text(at, mid+s.px(4), small, regular, c, anchor, name)
			s.taken = append(s.taken, b)
			return
		}
	}
}
