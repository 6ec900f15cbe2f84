package chart

import (
	"cmp"
	"image/color"
	"math"
	"slices"
	"strings"

	"shutline/deviation/gapflush"
)

// stationPanel writes the figures beside the drawing.
func (s *sheet) stationPanel(seam gapflush.Seam, st *gapflush.Station, x float64) {
	th := s.th
	s.vline(x-s.px(6), s.px(8), s.h-s.px(8), th.Grid)
	x += s.px(8)
	right, y := s.w-s.px(12), s.px(17)
	row := func(name, value string, c color.RGBA) {
		lines := s.broken(small, name, right-x-s.width(small, regular, value)-s.px(8))
		if y+s.px(13*float64(len(lines)-1)) > s.h-s.px(8) {
			return
		}
		for k, line := range lines { // a name without room goes on below; the value stands by its last line
			if k > 0 {
				y += s.px(13)
			}
			s.text(x, y, small, regular, th.Faint, leftOf, line)
		}
		s.text(right, y, small, regular, c, rightOf, value)
		y += s.px(16)
	}
	for _, f := range figuresOf(seam, st) {
		if y > s.h-s.px(24) {
			return
		}
		s.text(x, y, normal, bold, th.Ink, leftOf, f.name)
		c := th.verdictColor(f.verdict)
		if !f.value.OK {
			c = th.Faint
		}
		s.text(right, y, normal, bold, c, rightOf, withUnit(f))
		y += s.px(16)
		if n := f.nominal; n.OK || f.target.HasNominal {
			nominal := n.V
			if !n.OK {
				nominal = f.target.Nominal
			}
			text := number(nominal, 2)
			if f.target.Judged {
				text += "  " + signed(f.target.Tolerance.Lo, 2) + " / " + signed(f.target.Tolerance.Hi, 2)
			}
			row("nominal", text+" mm", th.Ink)
		}
		if word := f.verdict.String(); word != "" && y < s.h-s.px(8) {
			wide := s.width(small, regular, word)
			s.mark(right-wide-s.px(11), y-s.px(4), 4, f.verdict)
			row("verdict", word, th.verdictColor(f.verdict))
		}
		y += s.px(7)
	}
	if st.Feeler.OK {
		row("feeler", withU(st.Feeler, false)+" mm", th.Ink)
	}
	if st.Angle.OK {
		row("angle", number(st.Angle.V*180/math.Pi, 1)+"°", th.Ink)
	}
	for k, name := range []string{"A", "B"} {
		f := &st.Side[k]
		switch {
		case !f.Found:
			row("side "+name, "not found", th.Faint)
		case f.Radius > 0:
			row("side "+name, "r "+number(f.Radius, 2)+" mm, nose "+f.NoseState.String(), th.Ink)
		default:
			row("side "+name, "sharp, nose "+f.NoseState.String(), th.Ink)
		}
	}
	if st.State != gapflush.Measured {
		y = s.stateWords(st, x, right, y+s.px(7), s.h-s.px(8))
	}
	budgets := 0
	for _, b := range []struct {
		name  string
		lines []gapflush.BudgetLine
		known bool
	}{{"gap", st.GapBudget, st.Gap.OK}, {"flush", st.FlushBudget, st.Flush.OK}} {
		if !b.known || len(b.lines) == 0 || y+s.px(30) > s.h-s.px(8) {
			continue
		}
		y += s.px(9)
		s.text(x, y, small, bold, th.Ink, leftOf, "where U of the "+b.name+" comes from")
		y += s.px(16)
		for _, l := range largest(b.lines, budgetRows) {
			row(l.Source, number(l.U, 3)+" mm", th.Ink)
		}
		if n := len(b.lines) - budgetRows; n > 0 {
			row(count(n)+" smaller, together", number(rest(b.lines, budgetRows), 3)+" mm", th.Ink)
		}
		budgets++
	}
	if budgets == 0 {
		return
	}
	y += s.px(4)
	for _, line := range s.broken(small, "The parts are standard uncertainties, k=1. U is k=2: twice the root of the sum of their squares.", right-x) {
		if y > s.h-s.px(8) {
			return
		}
		s.text(x, y, small, regular, th.Faint, leftOf, line)
		y += s.px(13)
	}
}

// budgetRows is how many parts of an uncertainty are named; the others are added up.
const budgetRows = 4

// rest returns the root of the sum of squares of all but the n largest contributions.
func rest(lines []gapflush.BudgetLine, n int) float64 {
	all := largest(lines, len(lines))
	sum := 0.0
	for _, l := range all[min(n, len(all)):] {
		sum += float64(l.U * l.U)
	}
	return math.Sqrt(sum)
}

// largest returns the n largest contributions, largest first, equal ones in their order.
func largest(lines []gapflush.BudgetLine, n int) []gapflush.BudgetLine {
	out := slices.Clone(lines)
	slices.SortStableFunc(out, func(a, b gapflush.BudgetLine) int { return cmp.Compare(b.U, a.U) })
	return out[:min(n, len(out))]
}

func withUnit(f figure) string {
	t := withU(f.value, f.signed)
	if f.value.OK {
		t += " mm"
	}
	return t
}

// stationFoot writes the figures below a narrow drawing.
func (s *sheet) stationFoot(seam gapflush.Seam, st *gapflush.Station) {
	if st.State != gapflush.Measured {
		s.stateWords(st, s.px(12), s.w-s.px(12), s.h-s.px(66), s.h-s.px(22))
		return
	}
	x, y := s.px(12), s.h-s.px(34)
	for _, f := range figuresOf(seam, st) {
		if f.verdict.String() == "" {
			continue
		}
		text := f.name + " " + f.verdict.String()
		if x+s.width(small, regular, text)+s.px(16) > s.w-s.px(8) {
			break
		}
		s.mark(x+s.px(4), y-s.px(4), 4, f.verdict)
		x = s.text(x+s.px(14), y, small, regular, s.th.verdictColor(f.verdict), leftOf, text) + s.px(16)
	}
}

// stateWords says why a station has no gap, broken into lines between x and right. It returns where the next line would stand.
func (s *sheet) stateWords(st *gapflush.Station, x, right, y, bottom float64) float64 {
	s.hollow(x+s.px(4), y-s.px(4), 4)
	s.text(x+s.px(14), y, small, bold, s.th.Ink, leftOf, s.shorten(small, bold, string(st.State), right-x-s.px(14)))
	y += s.px(15)
	lines := s.broken(small, st.Why, right-x)
	for i, line := range lines {
		if y > bottom {
			return y
		}
		if y+s.px(14) > bottom && i+1 < len(lines) { // the last line there is room for, not the last there is
			line = s.shorten(small, regular, line, right-x-s.width(small, regular, " …")) + " …"
		}
		s.text(x, y, small, regular, s.th.Faint, leftOf, line)
		y += s.px(14)
	}
	return y
}

// broken breaks a text into lines of at most wide pixels.
func (s *sheet) broken(size float64, text string, wide float64) (lines []string) {
	line := ""
	for _, word := range strings.Fields(text) {
		longer := strings.TrimLeft(line+" "+word, " ")
		if line != "" && s.width(size, regular, longer) > wide {
			lines = append(lines, line)
			longer = word
		}
		line = s.shorten(size, regular, longer, wide)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// bar draws a scale bar of a round length, at most wide device pixels, with its lower
// left end at x, y, on a ground that keeps it readable over a part.
func (s *sheet) bar(x, y, pixelsPerMM, wide float64, ground color.RGBA) {
	c := s.th.Ink
	if !(pixelsPerMM > 0) || !(wide > 0) || math.IsInf(pixelsPerMM, 0) {
		return
	}
	length := barLength(wide / pixelsPerMM)
	l := float64(length * pixelsPerMM)
	places := max(0, -decade(length*(1+1e-9)))
	text := number(length, places) + " mm"
	s.wash(x-s.px(5), y-s.px(12), x+l+s.width(small, regular, text)+s.px(11), y+s.px(5), ground, 190)
	s.rect(x, y-s.hair()-s.px(1), x+l, y, c)
	for _, end := range []float64{x, x + l - s.hair()} {
		s.rect(end, y-s.px(6), end+s.hair(), y, c)
	}
	s.text(x+l+s.px(6), y, small, regular, c, leftOf, text)
}

// barLength returns the largest of 1, 2, 5 times a power of ten that is at most mm.
func barLength(mm float64) float64 {
	power := math.Pow10(decade(mm))
	for _, m := range []float64{5, 2} {
		if m*power <= mm*(1+1e-9) {
			return m * power
		}
	}
	return power
}
