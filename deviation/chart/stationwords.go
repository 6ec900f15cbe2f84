package chart

import (
	"cmp"
	"image/color"
	"math"
	"slices"
	"strings"

	"shutline/deviation/gapflush"
)

// column is a run of rows written downward beside a drawing.
type column struct {
	*sheet
	x, right, y float64
}

func (c *column) bottom() float64 { return c.h - c.px(8) }

// row writes a name and its value. A name without room goes on below; the value
// stands by its last line. A row that does not fit is left out.
func (c *column) row(name, value string, ink color.RGBA) {
	lines := c.broken(small, name, c.right-c.x-c.width(small, regular, value)-c.px(8))
	if c.y+c.px(13*float64(len(lines)-1)) > c.bottom() {
		return
	}
	for k, line := range lines {
		if k > 0 {
			c.y += c.px(13)
		}
		c.text(c.x, c.y, small, regular, c.th.Faint, leftOf, line)
	}
	c.text(c.right, c.y, small, regular, ink, rightOf, value)
	c.y += c.px(16)
}

// stationPanel writes the figures beside the drawing.
func (s *sheet) stationPanel(seam gapflush.Seam, st *gapflush.Station, x float64) {
	s.vline(x-s.px(6), s.px(8), s.h-s.px(8), s.th.Grid)
	c := &column{sheet: s, x: x + s.px(8), right: s.w - s.px(12), y: s.px(17)}
	for _, f := range figuresOf(seam, st) {
		if c.y > s.h-s.px(24) {
			return
		}
		c.figure(f)
	}
	c.sides(st)
	if st.State != gapflush.Measured {
		c.y = s.stateWords(st, c.x, c.right, c.y+s.px(7), c.bottom())
	}
	c.budgets(st)
}

// figure writes a figure with its nominal and verdict.
func (c *column) figure(f figure) {
	c.text(c.x, c.y, normal, bold, c.th.Ink, leftOf, f.name)
	ink := c.th.verdictColor(f.verdict)
	if !f.value.OK {
		ink = c.th.Faint
	}
	c.text(c.right, c.y, normal, bold, ink, rightOf, withUnit(f))
	c.y += c.px(16)
	if n := f.nominal; n.OK || f.target.HasNominal {
		nominal := n.V
		if !n.OK {
			nominal = f.target.Nominal
		}
		text := number(nominal, 2)
		if f.target.Judged {
			text += "  " + signed(f.target.Tolerance.Lo, 2) + " / " + signed(f.target.Tolerance.Hi, 2)
		}
		c.row("nominal", text+" mm", c.th.Ink)
	}
	if word := f.verdict.String(); word != "" && c.y < c.bottom() {
		wide := c.width(small, regular, word)
		c.mark(c.right-wide-c.px(11), c.y-c.px(4), 4, f.verdict)
		c.row("verdict", word, c.th.verdictColor(f.verdict))
	}
	c.y += c.px(7)
}

// sides writes what was found beside gap and flush.
func (c *column) sides(st *gapflush.Station) {
	if st.Feeler.OK {
		c.row("feeler", withU(st.Feeler, false)+" mm", c.th.Ink)
	}
	if st.Angle.OK {
		c.row("angle", number(st.Angle.V*180/math.Pi, 1)+"°", c.th.Ink)
	}
	for k, name := range []string{"A", "B"} {
		ink := c.th.Ink
		if !fitted(&st.Side[k]) {
			ink = c.th.Faint
		}
		c.row("side "+name, sideWords(st, k), ink)
	}
}

// budgets writes where the uncertainties come from, and what their parts are.
func (c *column) budgets(st *gapflush.Station) {
	written := false
	for _, b := range []struct {
		name  string
		lines []gapflush.BudgetLine
		known bool
	}{{"gap", st.GapBudget, st.Gap.OK}, {"flush", st.FlushBudget, st.Flush.OK}} {
		if !b.known || len(b.lines) == 0 || c.y+c.px(30) > c.bottom() {
			continue
		}
		c.y += c.px(9)
		c.text(c.x, c.y, small, bold, c.th.Ink, leftOf, "where U of the "+b.name+" comes from")
		c.y += c.px(16)
		for _, l := range largest(b.lines, budgetRows) {
			c.row(l.Source, number(l.U, 3)+" mm", c.th.Ink)
		}
		if n := len(b.lines) - budgetRows; n > 0 {
			c.row(count(n)+" smaller, together", number(rest(b.lines, budgetRows), 3)+" mm", c.th.Ink)
		}
		written = true
	}
	if !written {
		return
	}
	c.y += c.px(4)
	for _, line := range c.broken(small, "The parts are standard uncertainties, k=1. U is k=2: twice the root of the sum of their squares.", c.right-c.x) {
		if c.y > c.bottom() {
			return
		}
		c.text(c.x, c.y, small, regular, c.th.Faint, leftOf, line)
		c.y += c.px(13)
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
	var judged []figure
	const sign, between, row = 14, 16, 13
	wide := s.px(12)
	for _, f := range figuresOf(seam, st) {
		if f.verdict.String() != "" {
			judged = append(judged, f)
			wide += s.px(sign+between) + s.width(small, regular, verdictOf(f))
		}
	}
	x, y := s.px(12), s.h-s.px(34)
	below := wide-s.px(between) > s.w-s.px(8) // one below the other
	if below {
		y -= float64(s.px(row) * float64(len(judged)-1))
	}
	for _, f := range judged {
		s.mark(x+s.px(4), y-s.px(4), 4, f.verdict)
		end := s.text(x+s.px(sign), y, small, regular, s.th.verdictColor(f.verdict), leftOf, s.shorten(small, regular, verdictOf(f), s.w-s.px(8)-x-s.px(sign)))
		if below {
			y += s.px(row)
		} else {
			x = end + s.px(between)
		}
	}
}

// verdictOf says what came of a figure.
func verdictOf(f figure) string { return f.name + " " + f.verdict.String() }

// stateWords says why a station has no gap, broken into lines between x and right. It returns where the next line would stand.
func (s *sheet) stateWords(st *gapflush.Station, x, right, y, bottom float64) float64 {
	s.hollow(x+s.px(4), y-s.px(4), 4)
	s.text(x+s.px(14), y, small, bold, s.th.Ink, leftOf, s.shorten(small, bold, string(st.State), right-x-s.px(14)))
	y += s.px(15)
	lines := s.broken(small, s.said(whyAndWhat(st)), right-x)
	for i, line := range lines {
		if y > bottom {
			return y
		}
		if y+s.px(14) > bottom && i+1 < len(lines) { // the last line there is room for, not the last there is
			line = s.ended(small, line, right-x)
		}
		s.text(x, y, small, regular, s.th.Faint, leftOf, line)
		y += s.px(14)
	}
	return y
}

// ended is the beginning of a text, in whole words, with what shows that it goes on.
func (s *sheet) ended(size float64, text string, wide float64) string {
	words := strings.Fields(text)
	for n := len(words); n > 0; n-- {
		if short := strings.TrimRight(strings.Join(words[:n], " "), ",;:") + " …"; s.width(size, regular, short) <= wide {
			return short
		}
	}
	return s.shorten(size, regular, text+" …", wide)
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
