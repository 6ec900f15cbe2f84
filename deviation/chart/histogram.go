package chart

import (
	"image"
	"math"
	"strconv"

	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

// HistogramAxis ties the pixels of a histogram to deviations, for a brush on it.
type HistogramAxis struct {
	Left, Right float64 // device pixels, ends of the plot
	From, To    float64 // mm at those ends
}

// Margins of the histogram in layout units.
const (
	histLeft, histRight, histTop, histBottom = 62, 16, 25, 31
	// binWidth is what a bar is at least wide.
	binWidth = 5
)

// HistogramLayout returns the axis Histogram draws with, for the same
// arguments. It shows the colour scale with some room; the values do not move it.
func HistogramLayout(w, h int, scale float64, tol verdict.Tolerance, sc shade.Scale) HistogramAxis {
	if !(scale > 0) {
		scale = 1
	}
	reach := sc.Limit
	for _, t := range []float64{tol.Lo, tol.Hi} {
		if !math.IsInf(t, 0) {
			reach = max(reach, math.Abs(t))
		}
	}
	if !(reach > 0) || math.IsInf(reach, 0) {
		reach = 1
	}
	left := float64(histLeft * scale)
	return HistogramAxis{Left: left, Right: max(float64(w)-float64(histRight*scale), left+1), From: -float64(1.12 * reach), To: float64(1.12 * reach)}
}

// Value returns the deviation in mm at pixel x.
func (a HistogramAxis) Value(x float64) float64 {
	if a.Right <= a.Left {
		return a.From
	}
	return a.From + float64((a.To-a.From)*(x-a.Left)/(a.Right-a.Left))
}

// X returns the pixel of a deviation in mm.
func (a HistogramAxis) X(mm float64) float64 {
	if a.To <= a.From {
		return a.Left
	}
	return a.Left + (a.Right-a.Left)*(mm-a.From)/(a.To-a.From)
}

// shares are the parts of the weight in each bar, outside the axis, and in tolerance; all of them add up to 1.
type shares struct {
	bin          []float64
	below, above float64
	inside       float64
	any          bool
}

func sharesOf(axis HistogramAxis, bins int, values, weights []float64, tol verdict.Tolerance) shares {
	out := shares{bin: make([]float64, bins)}
	total := 0.0
	for i, v := range values {
		weight := 1.0
		if weights != nil {
			weight = weights[i]
		}
		if math.IsNaN(v) || !(weight > 0) {
			continue
		}
		total += weight
		if v >= tol.Lo && v <= tol.Hi {
			out.inside += weight
		}
		switch b := math.Floor((v - axis.From) / (axis.To - axis.From) * float64(bins)); {
		case b < 0:
			out.below += weight
		case b >= float64(bins):
			out.above += weight
		default:
			out.bin[int(b)] += weight
		}
	}
	if !(total > 0) {
		return out
	}
	out.any = true
	for i := range out.bin {
		out.bin[i] /= total
	}
	out.below, out.above, out.inside = out.below/total, out.above/total, out.inside/total
	return out
}

// Histogram draws how much surface has which deviation (mm), each value
// weighted by its area; weights nil counts every value once. Bars have the
// colours of the scale. Pass measured values only; NaN is passed over.
func Histogram(w, h int, th Theme, scale float64, values, weights []float64, tol verdict.Tolerance, sc shade.Scale) *image.RGBA {
	return drawHistogram(w, h, th, scale, values, weights, tol, sc).img
}

// Changes is Histogram for the differences between two results; tol is what does not matter, and the colours' neutral middle.
func Changes(w, h int, th Theme, scale float64, values, weights []float64, tol verdict.Tolerance, sc shade.Scale) *image.RGBA {
	return wordedHistogram(w, h, th, scale, values, weights, tol, sc, histogramWords{"change, mm", "changed by less than matters"}).img
}

// histogramWords say what a histogram is of, and what lies in its band.
type histogramWords struct{ axis, inside string }

func drawHistogram(w, h int, th Theme, scale float64, values, weights []float64, tol verdict.Tolerance, sc shade.Scale) *sheet {
	return wordedHistogram(w, h, th, scale, values, weights, tol, sc, histogramWords{"deviation, mm", "in tolerance"})
}

func wordedHistogram(w, h int, th Theme, scale float64, values, weights []float64, tol verdict.Tolerance, sc shade.Scale, words histogramWords) *sheet {
	s := newSheet(w, h, th, scale)
	axis := HistogramLayout(w, h, s.k, tol, sc)
	top, bottom := s.px(histTop), s.h-s.px(histBottom)
	if bottom-top < s.px(16) || axis.Right-axis.Left < s.px(80) {
		return s
	}
	// An odd number of bars puts the middle of one on deviation 0.
	bins := int((axis.Right-axis.Left)/(s.px(binWidth))-1)/2*2 + 1
	bins = max(11, min(bins, 181))
	sh := sharesOf(axis, bins, values, weights, tol)
	if !sh.any {
		s.text(s.w/2, s.h/2, normal, regular, th.Faint, middleOf, "no point with a number")
		return s
	}
	most := 0.0
	for _, v := range sh.bin {
		most = max(most, v)
	}
	// Heights grow with the root of the share, so that a small patch far out of tolerance can still be seen.
	y := func(share float64) float64 {
		return bottom - float64((bottom-top-s.px(4))*math.Sqrt(share/max(most, 1e-12)))
	}
	band := func(mm float64) float64 { return max(axis.Left, min(axis.Right, axis.X(mm))) }
	s.rect(band(tol.Lo), top, band(tol.Hi), bottom, th.Band)
	s.histogramGrid(most, y, axis, top, bottom)
	for i, v := range sh.bin {
		x0 := axis.Left + (axis.Right-axis.Left)*float64(i)/float64(bins)
		x1 := axis.Left + (axis.Right-axis.Left)*float64(i+1)/float64(bins)
		if v > 0 {
			height := min(y(v), bottom-s.hair())
			s.rect(x0, height, x1, bottom, sc.Color(axis.Value(float64((x0+x1)/2))))
			s.rect(x0, height, x1, height+s.hair(), th.Faint)
		}
	}
	for _, limit := range []float64{tol.Lo, tol.Hi} {
		if limit > axis.From && limit < axis.To {
			s.vline(axis.X(limit), top, bottom, th.Limit)
		}
	}
	s.hline(axis.Left, axis.Right, bottom, th.Faint)
	s.histogramAxis(axis, bottom, words.axis)
	s.histogramHeader(sh, axis, tol, weights != nil, words.inside)
	return s
}

// histogramSteps are the percentages that may be named beside a root scale, in the order they are tried.
var histogramSteps = []float64{0, 50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.01}

func (s *sheet) histogramGrid(most float64, y func(float64) float64, axis HistogramAxis, top, bottom float64) {
	var used []float64
	for _, v := range histogramSteps {
		at := y(v / 100)
		if v > 100*most || at < top+s.px(4) || crowded(used, at, s.px(14)) {
			continue
		}
		used = append(used, at)
		s.hline(axis.Left, axis.Right, at, s.th.Grid)
		s.text(axis.Left-s.px(7), at+s.px(4), small, regular, s.th.Faint, rightOf, strconv.FormatFloat(v, 'f', -1, 64)+" %")
	}
}

func (s *sheet) histogramAxis(axis HistogramAxis, bottom float64, label string) {
	from := axis.Right - s.width(small, regular, label) - s.px(10)
	values, places := ticks(axis.From, axis.To, max(2, int((axis.Right-axis.Left)/(s.px(64)))))
	for _, v := range values {
		x, text := axis.X(v), signed(v, places)
		s.vline(x, bottom, bottom+s.px(4), s.th.Faint)
		if x+float64(s.width(small, regular, text)/2) < from {
			s.text(x, bottom+s.px(16), small, regular, s.th.Faint, middleOf, text)
		}
	}
	s.text(axis.Right, bottom+s.px(16), small, regular, s.th.Faint, rightOf, label)
}

func (s *sheet) histogramHeader(sh shares, axis HistogramAxis, tol verdict.Tolerance, weighted bool, inside string) {
	row := s.px(15)
	unit := "of the points"
	if weighted {
		unit = "of the area"
	}
	head := number(100*sh.inside, 1) + " % " + unit + " " + inside
	x := s.text(s.px(12), row, normal, bold, s.th.Ink, leftOf, s.shorten(normal, bold, head, axis.Right-s.px(12)))
	tail := ""
	for _, t := range []struct {
		share, limit float64
		word         string
	}{{sh.below, axis.From, "below"}, {sh.above, axis.To, "above"}} {
		if t.share > 0 {
			if tail != "" {
				tail += ",  "
			}
			tail += percent(t.share) + " " + t.word + " " + signed(t.limit, 2) + " mm"
		}
	}
	limits := "  (" + signed(tol.Lo, 2) + " to " + signed(tol.Hi, 2) + " mm);  heights on a root scale"
	if x+s.width(small, regular, limits) < axis.Right {
		x = s.text(x, row, small, regular, s.th.Faint, leftOf, limits)
	}
	if room := axis.Right - x - s.px(16); tail != "" && room > s.px(40) {
		s.text(axis.Right, row, small, regular, s.th.Faint, rightOf, s.shorten(small, regular, tail, room))
	}
}

// percent writes a share that is not nothing so that it never reads as nothing.
func percent(share float64) string {
	if share < 0.0005 {
		return "under 0.1 %"
	}
	return number(100*share, 1) + " %"
}
