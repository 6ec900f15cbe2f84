package chart

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
)

// Errors over nearly the same length, as places where a scan lies over itself have them: each is named, apart from all others.
func TestNamesOfErrorsStandApart(t *testing.T) {
	value := func(v, u float64) verdict.Value { return verdict.Value{V: v, U: u, OK: true} }
	list := []LengthError{
		{Name: "overall length", Over: 4198, Error: value(48, 33), Allowed: 0.9, Verdict: verdict.DoesNotConform},
		{Name: "width behind the doors", Over: 1691, Error: value(26, 20), Verdict: verdict.DoesNotConform},
		{Name: "closure 1", Over: 4208, Error: value(90, 0.6)},
		{Name: "closure 2", Over: 4208, Error: value(93.5, 54)},
		{Name: "closure 3", Over: 4208, Error: value(72, 41)},
		{Name: "closure 4", Over: 4208, Error: value(63.5, 37)},
		{Name: "closure 5", Over: 4208, Error: value(56.3, 0.9)},
		{Name: "drift shape", Over: 4355, Error: value(68, 7.6)},
	}
	for _, size := range [][2]int{{1280, 164}, {1280, 206}, {900, 164}, {1920, 206}} {
		s := newSheet(size[0], size[1], Light(), 1)
		far := 4370 * 1.05
		left, right, top, bottom := s.px(histLeft), s.w-s.px(16), s.px(histTop), s.h-s.px(histBottom)
		x := func(mm float64) float64 { return left + (right-left)*mm/far }
		y := func(mm float64) float64 { return (top+bottom)/2 - (bottom-top)/2*mm/180 }
		s.nameErrors(list, x, y, top, bottom)
		noOverlap(t, s)
		for _, e := range list {
			require.Contains(t, said(s), e.Name, "%v", size)
		}
	}
}

// What a length may be off by is drawn up to the length of the part, however steep, and so is every error with its U.
func TestTheErrorsOfTheWholeLengthAreDrawn(t *testing.T) {
	const a, perMetre, longest = 0.09, 0.22, 2397.0
	th := Light()
	img := Errors(1280, 206, th, 1, []LengthError{{Name: "drift shape", Over: longest, Error: verdict.Value{V: 0, U: 0.08, OK: true}}}, true, a, perMetre, 0, longest)
	s := newSheet(1280, 206, th, 1)
	left, right, top, bottom := s.px(histLeft), s.w-s.px(16), s.px(histTop), s.h-s.px(histBottom)
	far := 1.05 * longest
	most := 1.1 * (a + perMetre*far/1000)
	for _, mm := range []float64{500, 1500, 2300, longest} {
		px := left + (right-left)*mm/far
		py := (top+bottom)/2 - (bottom-top)/2*(a+perMetre*mm/1000)/most
		found, least := 0.0, math.Inf(1) // the row whose colour is nearest to the line's
		for yy := int(top) - 2; yy < int((top+bottom)/2)-8; yy++ {
			c := img.RGBAAt(int(px), yy)
			off := math.Abs(float64(c.R)-float64(th.Line.R)) + math.Abs(float64(c.G)-float64(th.Line.G)) + math.Abs(float64(c.B)-float64(th.Line.B))
			if off < least {
				found, least = float64(yy), off
			}
		}
		require.Less(t, least, 120.0, "there is a line at %v mm", mm)
		require.InDelta(t, py, found, 2, "the line at %v mm", mm)
	}
}
