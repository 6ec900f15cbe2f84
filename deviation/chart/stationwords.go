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
	s.vline(x-6*s.k, 8*s.k, s.h-8*s.k, th.Grid)
	x += 8 * s.k
	right, y := s.w-12*s.k, 17*s.k
	row := func(name, value string, c color.RGBA) {
		lines := s.broken(small, name, right-x-s.width(small, regular, value)-8*s.k)
		if y+float64(len(lines)-1)*13*s.k > s.h-8*s.k {
			return
		}
		for k, line := range lines { // a name without room goes on below; the value stands by its last line
			if k > 0 {
				y += 13 * s.k
			}
			s.text(x, y, small, regular, th.Faint, leftOf, line)
		}
		s.text(right, y, small, regular, c, rightOf, value)
		y += 16 * s.k
	}
	for _, f := range figuresOf(seam, st) {
		if y > s.h-24*s.k {
			return
		}
		s.text(x, y, normal, bold, th.Ink, leftOf, f.name)
		c := th.verdictColor(f.verdict)
		if !f.value.OK {
			c = th.Faint
		}
		s.text(right, y, normal, bold, c, rightOf, withUnit(f))
		y += 16 * s.k
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
		if word := f.verdict.String(); word != "" && y < s.h-8*s.k {
			wide := s.width(small, regular, word)
			s.mark(right-wide-11*s.k, y-4*s.k, 4, f.verdict)
			row("verdict", word, th.verdictColor(f.verdict))
		}
		y += 7 * s.k
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
		y = s.stateWords(st, x, right, y+7*s.k, s.h-8*s.k)
	}
	budgets := 0
	for _, b := range []struct {
		name  string
		lines []gapflush.BudgetLine
		known bool
	}{{"gap", st.GapBudget, st.Gap.OK}, {"flush", st.FlushBudget, st.Flush.OK}} {
		if !b.known || len(b.lines) == 0 || y+30*s.k > s.h-8*s.k {
			continue
		}
		y += 9 * s.k
		s.text(x, y, small, bold, th.Ink, leftOf, "where U of the "+b.name+" comes from")
		y += 16 * s.k
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
	y += 4 * s.k
	for _, line := range s.broken(small, "The parts are standard uncertainties, k=1. U is k=2: twice the root of the sum of their squares.", right-x) {
		if y > s.h-8*s.k {
			return
		}
		s.text(x, y, small, regular, th.Faint, leftOf, line)
		y += 13 * s.k
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
		s.stateWords(st, 12*s.k, s.w-12*s.k, s.h-66*s.k, s.h-22*s.k)
		return
	}
	x, y := 12*s.k, s.h-34*s.k
	for _, f := range figuresOf(seam, st) {
		if f.verdict.String() == "" {
			continue
		}
		text := f.name + " " + f.verdict.String()
		if x+s.width(small, regular, text)+16*s.k > s.w-8*s.k {
			break
		}
		s.mark(x+4*s.k, y-4*s.k, 4, f.verdict)
		x = s.text(x+14*s.k, y, small, regular, s.th.verdictColor(f.verdict), leftOf, text) + 16*s.k
	}
}

// stateWords says why a station has no gap, broken into lines between x and right. It returns where the next line would stand.
func (s *sheet) stateWords(st *gapflush.Station, x, right, y, bottom float64) float64 {
	s.hollow(x+4*s.k, y-4*s.k, 4)
	s.text(x+14*s.k, y, small, bold, s.th.Ink, leftOf, s.shorten(small, bold, string(st.State), right-x-14*s.k))
	y += 15 * s.k
	lines := s.broken(small, st.Why, right-x)
	for i, line := range lines {
		if y > bottom {
			return y
		}
		if y+14*s.k > bottom && i+1 < len(lines) { // the last line there is room for, not the last there is
			line = s.shorten(small, regular, line, right-x-s.width(small, regular, " …")) + " …"
		}
		s.text(x, y, small, regular, s.th.Faint, leftOf, line)
		y += 14 * s.k
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
	l := length * pixelsPerMM
	places := max(0, int(-math.Floor(math.Log10(length)+1e-9)))
	text := number(length, places) + " mm"
	s.wash(x-5*s.k, y-12*s.k, x+l+s.width(small, regular, text)+11*s.k, y+5*s.k, ground, 190)
	s.rect(x, y-s.hair()-1*s.k, x+l, y, c)
	for _, end := range []float64{x, x + l - s.hair()} {
		s.rect(end, y-6*s.k, end+s.hair(), y, c)
	}
	s.text(x+l+6*s.k, y, small, regular, c, leftOf, text)
}

// barLength returns the largest of 1, 2, 5 times a power of ten that is at most mm.
func barLength(mm float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(mm)))
	for _, m := range []float64{5, 2} {
		if m*power <= mm*(1+1e-9) {
			return m * power
		}
	}
	return power
}
