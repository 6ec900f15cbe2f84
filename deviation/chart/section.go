package chart

import (
	"image"
	"image/color"
	"math"
	"strings"

	"shutline/deviation"
	"shutline/deviation/crosscut"
	"shutline/deviation/verdict"
)

// SectionInfo is what a section's drawing says in words.
type SectionInfo struct {
	Title, Plane string // "door belt", "x = 1200 mm"
	// The axes to the right and upward, in a word each, and the coordinates of the plane's point along them, mm.
	Across, Up         string
	AcrossAt, UpAt     float64
	AcrossTurned, Back bool // the axis grows to the left; downward
}

// Section draws a cut to scale: the reference's curve grey, the scan's coloured,
// and from the reference's curve whiskers that are the deviations, larger than
// the part by the factor that the drawing names. Whiskers within the tolerance
// and beyond it differ in colour, those beyond end in a bar. Arrows show which side of the curve is outside: whiskers on
// that side are places that stand proud.
func Section(w, h int, th Theme, scale float64, s *crosscut.Section, info SectionInfo) *image.RGBA {
	return drawSection(w, h, th, scale, s, info).img
}

// sectionPlane carries a section's plane into the picture.
type sectionPlane struct {
	x0, y0, x1, y1 float64
	h, v, scale    float64 // mm in the middle, pixels per mm
	whisker        float64 // pixels, of the longest
}

func (p sectionPlane) at(q crosscut.Point2) [2]float64 {
	return [2]float64{float64((p.x0+p.x1)/2) + float64((q.H-p.h)*p.scale), float64((p.y0+p.y1)/2) - float64((q.V-p.v)*p.scale)}
}

const (
	whiskerApart = 5.0 // layout units along the curve
	// The longest whisker, layout units: as long as the free room beside the curve allows, within these.
	whiskerLeast, whiskerMost = 46.0, 130.0
	curveMargin               = 30.0
	// Beside the drawing, layout units.
	sectionTop, sectionFoot, sectionLeft, sectionRight = 46.0, 58.0, 56.0, 18.0
)

func drawSection(w, h int, th Theme, scale float64, cut *crosscut.Section, info SectionInfo) *sheet {
	s := newSheet(w, h, th, scale)
	if cut == nil || s.w < s.px(160) || s.h < s.px(140) {
		return s
	}
	p := s.sectionPlaneOf(cut)
	factor := cut.Spec.Magnify
	if factor <= 0 {
		factor = p.inFrame(cut, s.magnify(cut, p))
	}
	s.sectionGrid(p, info)
	for _, c := range cut.Reference {
		s.curve(p, c, 2.6, th.Limit)
	}
	s.whiskers(p, cut, factor)
	for _, run := range s.readCircles(p, cut) {
		s.stroke(run, 0.9, th.Second)
	}
	for _, c := range cut.Scan {
		s.curve(p, c, 1.3, th.Ink)
	}
	// The frame covers what lies outside it.
	s.rect(0, 0, s.w, p.y0-s.px(1), th.Paper)
	s.rect(0, p.y1+s.px(1), s.w, s.h, th.Paper)
	s.rect(0, 0, p.x0-s.px(1), s.h, th.Paper)
	s.rect(p.x1+s.px(1), 0, s.w, s.h, th.Paper)
	s.sectionAxes(p, info)
	s.sectionWords(p, cut, info, factor)
	s.sectionLabels(p, cut, factor)
	return s
}

// readCircles are the circles that were read, as far as each was asked for about its place; what is smaller has an inset.
func (s *sheet) readCircles(p sectionPlane, cut *crosscut.Section) (runs [][][2]float64) {
	for i := range cut.Readings {
		r := &cut.Readings[i]
		if r.Kind != "radius" || !r.Scan.OK || r.Scan.V*p.scale < s.px(insetBelow) || i >= len(cut.Spec.Radii) {
			continue
		}
		at, within := p.at(r.At[0]), cut.Spec.Radii[i].Within*p.scale
		var run [][2]float64
		for _, q := range circleOf(p, r) {
			if hypot(q[0]-at[0], q[1]-at[1]) > within {
				runs, run = append(runs, run), nil
				continue
			}
			run = append(run, q)
		}
		runs = append(runs, run)
	}
	return runs
}

// leastSheetWide and leastSheetTall are the least of a section's sheet in either direction, layout units: for its words.
const leastSheetWide, leastSheetTall = 780.0, 400.0

// SectionSheet returns a sheet, in pixels, that a cut fills: no larger than long by broad, upright for a cut that is
// taller than wide, and in its other direction as narrow as the cut, its whiskers and its words allow.
func SectionSheet(cut *crosscut.Section, long, broad int, scale float64) (w, h int) {
	if cut == nil {
		return long, broad
	}
	lo, hi := sectionBox(cut)
	wide, tall := max(hi.H-lo.H, 1e-6), max(hi.V-lo.V, 1e-6)
	const (
		besideWide, besideTall = sectionLeft + sectionRight, sectionTop + sectionFoot
		whiskers               = 2 * (whiskerMost + curveMargin)
	)
	most, other := float64(long)/scale, float64(broad)/scale
	fit := func(along, across, besideAlong, besideAcross, least float64) int {
		n := float64(across*(most-besideAlong-2*curveMargin)/along) + besideAcross + whiskers
		return int(math.Round(scale * min(max(n, least), other)))
	}
	if wide >= tall {
		return long, fit(wide, tall, besideWide, besideTall, min(leastSheetTall, other))
	}
	return fit(tall, wide, besideTall, besideWide, min(leastSheetWide, other)), long
}

// sectionBox is what of a cut is to be seen.
func sectionBox(cut *crosscut.Section) (lo, hi crosscut.Point2) {
	lo, hi = crosscut.Point2{H: math.Inf(1), V: math.Inf(1)}, crosscut.Point2{H: math.Inf(-1), V: math.Inf(-1)}
	grow := func(q crosscut.Point2) {
		lo = crosscut.Point2{H: min(lo.H, q.H), V: min(lo.V, q.V)}
		hi = crosscut.Point2{H: max(hi.H, q.H), V: max(hi.V, q.V)}
	}
	// What is far from everything compared (a floor, a stand) does not make the drawing small.
	known := false
	for _, c := range cut.Scan {
		for k, q := range c.Points {
			if c.State != nil && c.State[k] == deviation.Measured {
				grow(q)
				known = true
			}
		}
	}
	if !known {
		for _, c := range append(append([]crosscut.Curve{}, cut.Scan...), cut.Reference...) {
			for _, q := range c.Points {
				grow(q)
			}
		}
	}
	for _, r := range cut.Readings {
		if r.Scan.OK { // one without a value may lie anywhere
			grow(r.At[0])
			grow(r.At[1])
		}
	}
	return lo, hi
}

// sectionPlaneOf fits both curves into the drawing, with room for whiskers.
func (s *sheet) sectionPlaneOf(cut *crosscut.Section) sectionPlane {
	lo, hi := sectionBox(cut)
	p := sectionPlane{x0: s.px(sectionLeft), y0: s.px(sectionTop), x1: s.w - s.px(sectionRight), y1: s.h - s.px(sectionFoot)}
	p.h, p.v = (lo.H+hi.H)/2, (lo.V+hi.V)/2
	wide, tall := max(hi.H-lo.H, 1e-6), max(hi.V-lo.V, 1e-6)
	margin := 2 * s.px(curveMargin)
	p.scale = min((p.x1-p.x0-margin)/wide, (p.y1-p.y0-margin)/tall)
	spare := func() float64 {
		return max((p.x1-p.x0)-float64(wide*p.scale), (p.y1-p.y0)-float64(tall*p.scale)) / 2
	}
	if least := s.px(whiskerLeast + curveMargin); spare() < least {
		p.scale = min((p.x1-p.x0-2*least)/wide, (p.y1-p.y0-2*least)/tall)
	}
	p.whisker = max(s.px(whiskerLeast), min(s.px(whiskerMost), float64(0.5*spare())))
	if !(p.scale > 0) {
		p.scale = 1
	}
	return p
}

// leastShown is the share of the tolerance's width that the longest whisker stands for at least: what is less
// matters to nobody who allows the whole, and magnified to the full length it would bury the part in noise.
const leastShown = 0.5

// magnify chooses how many times larger than the part deviations are drawn: 1, 2 or 5
// times a power of ten, at which the largest stay within their room.
func (s *sheet) magnify(cut *crosscut.Section, p sectionPlane) float64 {
	most := max(math.Abs(cut.Figures.Lowest.V), math.Abs(cut.Figures.Highest.V), leastShown*(cut.Tolerance.Hi-cut.Tolerance.Lo))
	if !(most > 0) {
		return 1
	}
	return min(crosscut.MostMagnify, max(1, barLength(p.whisker/(most*p.scale))))
}

// inFrame returns the factor, or the next smaller of such, at which no whisker but one in a hundred leaves the frame:
// of a cut round a whole body the whiskers of the far sides have less room than those of the near ones.
func (p sectionPlane) inFrame(cut *crosscut.Section, factor float64) float64 {
	const fewOf = 100
	for ; factor > 1; factor = barLength(factor * 0.99) {
		outside, all := 0, 0
		for i := range cut.Scan {
			c := &cut.Scan[i]
			for k := range c.State {
				if c.State[k] != deviation.Measured || c.Out[k] == (crosscut.Point2{}) {
					continue
				}
				all++
				if _, end := tip(c, k, p, factor); end[0] < p.x0 || end[0] > p.x1 || end[1] < p.y0 || end[1] > p.y1 {
					outside++
				}
			}
		}
		if outside*fewOf <= all {
			break
		}
	}
	return factor
}

// curve draws a run of a cut.
func (s *sheet) curve(p sectionPlane, c crosscut.Curve, width float64, col color.RGBA) {
	var line [][2]float64
	for _, q := range c.Points {
		at := p.at(q)
		// Under a quarter of a pixel apart nothing is seen of a place.
		if n := len(line); n > 0 && hypot(at[0]-line[n-1][0], at[1]-line[n-1][1]) < 0.25 {
			continue
		}
		line = append(line, at)
	}
	if c.Closed && len(line) > 1 {
		line = append(line, line[0])
	}
	s.stroke(line, width, col)
}

// tip returns a whisker's foot on the reference and its end.
func tip(c *crosscut.Curve, k int, p sectionPlane, factor float64) (foot, end [2]float64) {
	d, out, q := c.Deviation[k], c.Out[k], c.Points[k]
	on := crosscut.Point2{H: q.H - float64(d*out.H), V: q.V - float64(d*out.V)}
	return p.at(on), p.at(crosscut.Point2{H: on.H + float64(float64(factor*d)*out.H), V: on.V + float64(float64(factor*d)*out.V)})
}

const (
	// goesRound is the cosine of 20°: a surface that turns more from place to place has no line
	// through its whiskers' ends.
	goesRound = 0.94
	// swings is how far, layout units, besides as far as the curve itself goes, the turning of a surface may
	// swing the ends of its whiskers from place to place: round a hem that is small in the drawing they
	// swing through the whole part.
	swings = 4.0
)

// whiskers draws the deviations and the line through their ends.
func (s *sheet) whiskers(p sectionPlane, cut *crosscut.Section, factor float64) {
	tone := func(d float64) color.RGBA {
		if d < cut.Tolerance.Lo || d > cut.Tolerance.Hi {
			return s.th.Bad
		}
		return s.th.Line
	}
	for i := range cut.Scan {
		c := &cut.Scan[i]
		if c.State == nil {
			continue
		}
		var ends [][2]float64
		flush := func() {
			s.stroke(ends, 0.9, s.th.Line)
			ends = nil
		}
		gone := math.Inf(1)
		var last [2]float64
		var before crosscut.Point2
		for k := range c.Points {
			if c.State[k] != deviation.Measured || c.Out[k] == (crosscut.Point2{}) {
				flush()
				gone = math.Inf(1)
				continue
			}
			foot, end := tip(c, k, p, factor)
			step := 0.0
			if gone < math.Inf(1) {
				step = hypot(foot[0]-last[0], foot[1]-last[1])
				gone += step
			}
			last = foot
			if before != (crosscut.Point2{}) {
				turned := hypot(c.Out[k].H-before.H, c.Out[k].V-before.V) * hypot(end[0]-foot[0], end[1]-foot[1])
				if float64(before.H*c.Out[k].H)+float64(before.V*c.Out[k].V) < goesRound || turned > step+s.px(swings) {
					flush() // round a hem the ends swing about and say nothing together
				}
			}
			before = c.Out[k]
			if n := len(ends); n == 0 || hypot(end[0]-ends[n-1][0], end[1]-ends[n-1][1]) > 0.5 {
				ends = append(ends, end)
			}
			if gone < s.px(whiskerApart) {
				continue
			}
			gone = 0
			col := tone(c.Deviation[k])
			s.line(foot[0], foot[1], end[0], end[1], 0.9, col)
			if col == s.th.Bad {
				l := hypot(end[0]-foot[0], end[1]-foot[1])
				if l > 0 {
					x, y := float64((end[1]-foot[1])/l*s.px(2)), -float64((end[0]-foot[0])/l*s.px(2))
					s.line(end[0]-x, end[1]-y, end[0]+x, end[1]+y, 1.2, col)
				}
			}
		}
		flush()
	}
}

// sectionGrid draws thin lines at round coordinates.
func (s *sheet) sectionGrid(p sectionPlane, info SectionInfo) {
	for _, t := range s.sectionTicks(p, info, false) {
		s.vline(t.pixel, p.y0, p.y1, s.th.Grid)
	}
	for _, t := range s.sectionTicks(p, info, true) {
		s.hline(p.x0, p.x1, t.pixel, s.th.Grid)
	}
}

type sectionTick struct {
	pixel float64
	label string
}

// sectionTicks returns the round coordinates of an axis and where they stand.
func (s *sheet) sectionTicks(p sectionPlane, info SectionInfo, upright bool) (list []sectionTick) {
	half, mid, at, turned := (p.x1-p.x0)/2/p.scale, p.h, info.AcrossAt, info.AcrossTurned
	apart := s.px(64)
	if upright {
		half, mid, at, turned = (p.y1-p.y0)/2/p.scale, p.v, info.UpAt, info.Back
	}
	sign := 1.0
	if turned {
		sign = -1
	}
	centre := at + float64(sign*mid)
	values, places := ticks(centre-half, centre+half, max(2, int(2*half*p.scale/apart)))
	for _, v := range values {
		q := float64(sign * (v - at))
		pixel := p.at(crosscut.Point2{H: q, V: p.v})[0]
		if upright {
			pixel = p.at(crosscut.Point2{H: p.h, V: q})[1]
		}
		list = append(list, sectionTick{pixel, number(v, places)})
	}
	return list
}

// sectionAxes draws the frame and its coordinates.
func (s *sheet) sectionAxes(p sectionPlane, info SectionInfo) {
	s.hline(p.x0, p.x1, p.y1, s.th.Limit)
	s.vline(p.x0, p.y0, p.y1, s.th.Limit)
	right := p.x0
	for _, t := range s.sectionTicks(p, info, false) {
		wide := s.width(small, regular, t.label)
		if t.pixel < p.x0 || t.pixel+float64(wide/2) > p.x1-s.width(small, bold, info.Across)-s.px(10) || t.pixel-float64(wide/2) < right {
			continue
		}
		s.vline(t.pixel, p.y1, p.y1+s.px(4), s.th.Limit)
		right = s.text(t.pixel, p.y1+s.px(15), small, regular, s.th.Faint, middleOf, t.label) + s.px(6)
	}
	s.text(p.x1, p.y1+s.px(15), small, bold, s.th.Faint, rightOf, info.Across)
	for _, t := range s.sectionTicks(p, info, true) {
		if t.pixel < p.y0+s.px(20) || t.pixel > p.y1-s.px(4) {
			continue
		}
		s.hline(p.x0-s.px(4), p.x0, t.pixel, s.th.Limit)
		s.text(p.x0-s.px(7), t.pixel+s.px(4), small, regular, s.th.Faint, rightOf, t.label)
	}
	s.text(p.x0-s.px(7), p.y0+s.px(8), small, bold, s.th.Faint, rightOf, info.Up)
}

// sectionWords writes title, plane, key, figures and scale bar.
func (s *sheet) sectionWords(p sectionPlane, cut *crosscut.Section, info SectionInfo, factor float64) {
	plane := s.shorten(small, regular, info.Plane, s.w*0.5)
	s.text(s.w-s.px(sectionRight), s.px(17), small, regular, s.th.Faint, rightOf, plane)
	s.text(s.px(12), s.px(17), large, bold, s.th.Ink, leftOf, s.shorten(large, bold, info.Title, s.w-s.width(small, regular, plane)-s.px(44)))
	x, y := s.px(12), s.px(35)
	key := func(c color.RGBA, width float64, text string) {
		if x+s.px(26)+s.width(small, regular, text) > s.w-s.px(8) {
			return
		}
		s.line(x, y-s.px(4), x+s.px(18), y-s.px(4), width, c)
		x = s.text(x+s.px(24), y, small, regular, s.th.Ink, leftOf, text) + s.px(16)
	}
	key(s.th.Ink, 1.3, "scan")
	f := cut.Figures
	var words []string
	switch {
	case !cut.HasReference:
		words = append(words, "no reference: the scan alone")
	case cut.ReferenceMissing:
		words = append(words, "the plane does not meet the reference")
	default:
		key(s.th.Limit, 2.6, "reference")
	}
	if out := "outside"; x+s.px(26)+s.width(small, regular, out) <= s.w-s.px(8) {
		s.outsideArrow(s.outsideMark([2]float64{x - s.px(outsideFrom), y - s.px(4)}, [2]float64{1, 0}))
		x = s.text(x+s.px(26), y, small, regular, s.th.Ink, leftOf, out) + s.px(16)
	}
	if f.Measured > 0 {
		key(s.th.Line, 0.9, "deviation, drawn × "+number(factor, max(0, -decade(factor*(1+1e-9))))+", + outward")
		key(s.th.Bad, 1.2, "beyond "+signed(cut.Tolerance.Lo, 2)+" … "+signed(cut.Tolerance.Hi, 2)+" mm")
		words = append(words, "mean "+signed(f.Mean, 2)+" mm", "RMS "+number(f.RMS, 2)+" mm",
			"lowest "+signed(f.Lowest.V, 2)+" mm", "highest "+signed(f.Highest.V, 2)+" mm", "in tolerance "+number(100*f.InTolerance, 1)+" %")
		if f.Measured < f.Points {
			words = append(words, "without a number "+number(100*float64(f.Points-f.Measured)/float64(f.Points), 1)+" % of places")
		}
	} else if cut.HasReference && !cut.ReferenceMissing {
		words = append(words, "no place of the scan's curve has a deviation")
	}
	bar := min(s.px(120), s.w/4)
	s.bar(s.px(12), s.h-s.px(9), p.scale, bar, s.th.Paper)
	text := strings.Join(words, "   ")
	room := s.w - s.px(12) - bar - s.px(90)
	for len(words) > 1 && s.width(small, regular, text) > room {
		words = words[:len(words)-1]
		text = strings.Join(words, "   ")
	}
	s.text(s.w-s.px(sectionRight), s.h-s.px(9), small, regular, s.th.Ink, rightOf, s.shorten(small, regular, text, room))
}

// sectionLabels writes the read-outs and the extremes beside their places, where they cover
// no curve, whisker or other label as far as that can be had.
func (s *sheet) sectionLabels(p sectionPlane, cut *crosscut.Section, factor float64) {
	busy := s.sectionBusy(p, cut, factor)
	arrows := s.outsideMarks(p, cut, busy)
	for _, m := range arrows {
		s.outsideArrow(m)
		for k := range 9 { // labels leave it alone
			t := float64(k) / 8
			at := [2]float64{m.foot[0] + float64(t*(m.point[0]-m.foot[0])), m.foot[1] + float64(t*(m.point[1]-m.foot[1]))}
			for range 5 {
				busy = append(busy, at)
			}
		}
	}
	boxes, shown := s.insets(p, cut, busy)
	put := func(at [2]float64, text string, c color.RGBA, w weight) {
		box, ok := s.sectionLabel(p, at, text, c, w, busy, boxes)
		if !ok {
			return
		}
		boxes = append(boxes, box)
		to := nearest(box, at)
		for k := range 9 { // the next ones leave the line to it alone
			t := float64(k) / 8
			busy = append(busy, [2]float64{at[0] + float64(t*(to[0]-at[0])), at[1] + float64(t*(to[1]-at[1]))})
		}
	}
	for i := range cut.Readings {
		r := &cut.Readings[i]
		at := p.at(r.At[0])
		if shown[i] || !r.Scan.OK && (at[0] < p.x0 || at[0] > p.x1 || at[1] < p.y0 || at[1] > p.y1) {
			continue // in an inset; far from the curve, as the words say
		}
		if r.Kind == "angle" {
			b := p.at(r.At[1])
			s.line(at[0], at[1], b[0], b[1], 0.6, s.th.Second)
			s.dot(b[0], b[1], 2.2, s.th.Second)
		}
		put(at, readingText(r), s.th.Second, bold)
	}
	if len(arrows) > 0 {
		put(arrows[0].point, "outside", s.th.Accent, regular)
	}
	f := cut.Figures
	if f.Lowest.OK {
		put(p.at(f.AtHighest), "highest "+signed(f.Highest.V, 2)+" mm", s.th.Ink, regular)
		put(p.at(f.AtLowest), "lowest "+signed(f.Lowest.V, 2)+" mm", s.th.Ink, regular)
	}
}

// sectionBusy are the places of a drawing that curves and whiskers cover.
func (s *sheet) sectionBusy(p sectionPlane, cut *crosscut.Section, factor float64) (busy [][2]float64) {
	// Lines are covered between their places too, which lie far apart in small sections.
	line := func(a, b [2]float64, most int) {
		n := 1 + min(most, int(hypot(b[0]-a[0], b[1]-a[1])/s.px(4)))
		for i := range n {
			t := float64(i+1) / float64(n)
			busy = append(busy, [2]float64{a[0] + float64(t*(b[0]-a[0])), a[1] + float64(t*(b[1]-a[1]))})
		}
	}
	const facet, whisker = 400, 12
	for i := range cut.Scan {
		c := &cut.Scan[i]
		var last [2]float64
		for k := range c.Points {
			at := p.at(c.Points[k])
			if k > 0 {
				line(p.at(c.Points[k-1]), at, facet)
			}
			if c.State == nil || c.State[k] != deviation.Measured {
				continue
			}
			foot, end := tip(c, k, p, factor)
			line(foot, end, whisker)
			if k > 0 && c.State[k-1] == deviation.Measured {
				line(last, end, facet)
			}
			last = end
		}
	}
	for _, run := range s.readCircles(p, cut) {
		busy = append(busy, run...)
	}
	for _, c := range cut.Reference {
		for k := 1; k < len(c.Points); k++ {
			line(p.at(c.Points[k-1]), p.at(c.Points[k]), facet)
		}
	}
	return busy
}

// sectionLabel writes a label beside a place and returns where it stands; ok is false where there is no room.
func (s *sheet) sectionLabel(p sectionPlane, at [2]float64, text string, c color.RGBA, w weight, busy [][2]float64, boxes [][4]float64) (box [4]float64, ok bool) {
	at = [2]float64{min(p.x1, max(p.x0, at[0])), min(p.y1, max(p.y0, at[1]))}
	wide, tall := s.width(small, w, text)+s.px(8), s.px(16)
	best, place := math.Inf(1), [2]float64{}
	for _, r := range []float64{24, 44, 70, 100, 140, 190} {
		for a := range 16 {
			dx, dy := whole16(a)
			x, y := at[0]+float64(s.px(r)*dx)-float64(wide/2)+float64(float64(wide/2)*dx), at[1]+float64(s.px(r)*dy)-float64(tall/2)
			if x < p.x0+s.px(4) || x+wide > p.x1-s.px(2) || y < p.y0+s.px(2) || y+tall > p.y1-s.px(3) {
				continue
			}
			cost := float64(r * 0.02)
			to := nearest([4]float64{x, y, x + wide, y + tall}, at)
			for _, b := range boxes {
				if _, _, across := clip(at, to, b); across {
					cost += acrossLabel
				}
				if x < b[2]+s.px(3) && x+wide > b[0]-s.px(3) && y < b[3]+s.px(3) && y+tall > b[1]-s.px(3) {
					cost += 1000
				}
			}
			for _, q := range busy {
				if q[0] > x-s.px(3) && q[0] < x+wide+s.px(3) && q[1] > y-s.px(3) && q[1] < y+tall+s.px(3) {
					cost++
				}
			}
			if cost < best {
				best, place = cost, [2]float64{x, y}
			}
		}
	}
	if best >= 1000 { // no room: the figures say it below the drawing and in the tables
		return box, false
	}
	// The line ends at the label's nearest side.
	to := nearest([4]float64{place[0], place[1], place[0] + wide, place[1] + tall}, at)
	s.line(at[0], at[1], to[0], to[1], 0.8, c)
	s.dot(at[0], at[1], 2.2, c)
	s.wash(place[0], place[1], place[0]+wide, place[1]+tall, s.th.Paper, 235)
	s.text(place[0]+s.px(4), place[1]+s.px(12), small, w, c, leftOf, text)
	return [4]float64{place[0], place[1], place[0] + wide, place[1] + tall}, true
}

// acrossLabel is what a line to a label costs that runs across another label, in places of curves covered.
const acrossLabel = 30

// nearest returns the place of a box that is nearest to a place.
func nearest(box [4]float64, at [2]float64) [2]float64 {
	return [2]float64{min(box[2], max(box[0], at[0])), min(box[3], max(box[1], at[1]))}
}

// whole16 returns the sixteen directions round a place.
func whole16(k int) (x, y float64) {
	const c, d = 0.92387953251128674, 0.38268343236508977 // of 22.5°
	const e = 0.70710678118654752
	u := [5][2]float64{{1, 0}, {c, d}, {e, e}, {d, c}, {0, 1}}[k%4]
	for range k / 4 {
		u = [2]float64{-u[1], u[0]}
	}
	return u[0], u[1]
}

// readingText words a read-out: "nose: R 12.40 ± 0.30 mm (reference 12.00)".
func readingText(r *crosscut.Reading) string {
	name := r.Name
	if name != "" {
		name += ": "
	}
	if !r.Scan.OK {
		return name + "no " + r.Kind
	}
	text, unit := "R ", " mm"
	value, ref := r.Scan, r.Reference
	if r.Kind == "angle" {
		text, unit = "", "°"
		const degree = 180 / math.Pi
		value = verdict.Value{V: value.V * degree, U: value.U * degree, OK: true}
		ref.V, ref.U = ref.V*degree, ref.U*degree
	}
	text = name + text + withU(value, false) + unit
	switch {
	case ref.OK && ref.U > value.U/4: // less is nothing beside the scan's
		text += " (reference " + withU(ref, false) + unit + ")"
	case ref.OK:
		text += " (reference " + number(ref.V, verdict.Decimals(value.U)) + unit + ")"
	}
	return text
}
