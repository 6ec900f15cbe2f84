package chart

import (
	"cmp"
	"image"
	"image/color"
	"math"
	"slices"
	"sort"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// SeamAxis ties the pixels of a seam chart to its stations.
type SeamAxis struct {
	Left, Right float64 // device pixels, ends of the plot
	From, To    float64 // mm along the seam at those ends
	along       []float64
}

// Margins of the seam chart in layout units.
const (
	seamLeft, seamRight, seamTop, seamBottom = 92, 16, 25, 31
	seamBetween                              = 8
	small, normal, large                     = 11, 12, 13 // text sizes
)

// SeamLayout returns the axis Seam draws with, for the same arguments.
func SeamLayout(w, h int, scale float64, r *gapflush.Result) SeamAxis {
	if !(scale > 0) {
		scale = 1
	}
	left := float64(seamLeft * scale)
	a := SeamAxis{Left: left, Right: max(float64(w)-float64(seamRight*scale), left+1), To: 1}
	if r == nil || len(r.Stations) == 0 {
		return a
	}
	for i := range r.Stations {
		a.along = append(a.along, r.Stations[i].Along)
	}
	half := r.Seam.Every / 2
	if !(half > 0) {
		half = 12.5
	}
	a.From, a.To = a.along[0]-half, a.along[len(a.along)-1]+half
	return a
}

// StationAt returns the index in r.Stations of the station nearest to pixel x, or -1 without any.
func (a SeamAxis) StationAt(x float64) int {
	if len(a.along) == 0 {
		return -1
	}
	mm := a.From + (a.To-a.From)*(x-a.Left)/(a.Right-a.Left)
	i := sort.SearchFloat64s(a.along, mm)
	if i == len(a.along) || i > 0 && mm-a.along[i-1] <= a.along[i]-mm {
		i--
	}
	return i
}

// X returns the pixel of the station with the given index in r.Stations.
func (a SeamAxis) X(station int) float64 {
	if station < 0 || station >= len(a.along) {
		return a.Left
	}
	return a.at(a.along[station])
}

func (a SeamAxis) at(mm float64) float64 {
	return a.Left + (a.Right-a.Left)*(mm-a.From)/(a.To-a.From)
}

// Seam draws gap (above) and flush (below) along a seam with the tolerance
// bands, the uncertainty as a ribbon and a mark per station in the shape of its
// verdict. marker is the index in r.Stations of the selected station, or -1.
func Seam(w, h int, th Theme, scale float64, r *gapflush.Result, marker int) *image.RGBA {
	return drawSeam(w, h, th, scale, r, marker).img
}

func drawSeam(w, h int, th Theme, scale float64, r *gapflush.Result, marker int) *sheet {
	s := newSheet(w, h, th, scale)
	if r == nil || len(r.Stations) == 0 {
		s.noStations(r)
		return s
	}
	axis := SeamLayout(w, h, s.k, r)
	sides := sidesLine(r)
	if s.h < s.px(sidesFrom) {
		sides = ""
	}
	top, bottom := s.px(seamTop), s.h-s.px(seamBottom)
	if sides != "" {
		top += s.px(sidesRow)
	}
	half := float64((bottom - top - s.px(seamBetween)) / 2)
	if half < s.px(12) || axis.Right-axis.Left < s.px(60) {
		return s
	}
	gap := tracksOf(r, true)
	flush := tracksOf(r, false)
	s.track(axis, gap, top, top+half)
	s.track(axis, flush, bottom-half, bottom)
	if marker >= 0 && marker < len(r.Stations) {
		s.seamMarker(axis, marker, top, bottom)
	}
	header := s.seamHeader(r, marker, axis)
	var second [2]float64 // where the row of the sides is free
	if sides != "" {
		sides = s.shorten(small, regular, sides, axis.Right-s.px(12))
		second = [2]float64{s.px(12) + s.width(small, regular, sides) + s.px(20), axis.Right}
	}
	legend := s.missingLegend(r, header, second, axis, bottom+s.px(16))
	s.alongAxis(axis, bottom, legend)
	s.noNumbers(r, axis, top, bottom)
	if sides != "" {
		s.text(s.px(12), s.px(15+sidesRow), small, regular, th.Faint, leftOf, sides)
	}
	return s
}

// noStations says in the place of a chart that there is nothing to draw, and why.
func (s *sheet) noStations(r *gapflush.Result) {
	if r == nil || r.Unlaid == "" {
		s.text(s.w/2, s.h/2, normal, regular, s.th.Faint, middleOf, "no stations on this seam")
		return
	}
	s.seamHeader(r, -1, SeamAxis{Right: s.w - s.px(seamRight)})
	y := s.px(15 + 24)
	for _, line := range s.broken(normal, s.said("no value, because "+r.Unlaid), s.w-s.px(12+seamRight)) {
		if y > s.h-s.px(4) {
			return
		}
		s.text(s.px(12), y, normal, regular, s.th.Ink, leftOf, line)
		y += s.px(17)
	}
}

// noNumbers says across a chart without any number why there is none, and what to do: for each reason of its stations, the most frequent first.
func (s *sheet) noNumbers(r *gapflush.Result, axis SeamAxis, top, bottom float64) {
	counts := map[string]int{}
	var reasons []string
	for i := range r.Stations {
		st := &r.Stations[i]
		if st.Gap.OK || st.Flush.OK {
			return
		}
		why := whyAndWhat(st)
		if counts[why]++; counts[why] == 1 && why != "" {
			reasons = append(reasons, why)
		}
	}
	if len(reasons) == 0 {
		return
	}
	slices.SortStableFunc(reasons, func(a, b string) int { return cmp.Compare(counts[b], counts[a]) })
	const room, row = 14.0, 17.0
	var lines []string
	left, right := axis.Left+s.px(30), axis.Right-s.px(30)
	for k, why := range reasons {
		more := s.broken(normal, s.said(number(float64(counts[why]), 0)+" of "+number(float64(len(r.Stations)), 0)+" stations: "+why), right-left-s.px(2*room))
		if s.px(row*float64(len(lines)+len(more)+2)) > bottom-top-s.px(2*room) {
			if k == 0 {
				return
			}
			lines = append(lines, s.said("and "+count(len(reasons)-k)+" more reasons"))
			break
		}
		lines = append(lines, more...)
	}
	tall := s.px(float64(row*float64(len(lines))) + room)
	y := float64((top+bottom)/2) - float64(tall/2)
	s.rect(left-s.hair(), y-s.hair(), right+s.hair(), y+tall+s.hair(), s.th.Limit)
	s.rect(left, y, right, y+tall, s.th.Paper)
	for _, line := range lines {
		y += s.px(row)
		s.text(left+s.px(room), y, normal, regular, s.th.Ink, leftOf, line)
	}
}

// track is one quantity along a seam.
type track struct {
	name    string
	target  gapflush.Target
	value   []verdict.Value
	nominal []verdict.Value
	verdict []verdict.Verdict
	state   []gapflush.State
}

func tracksOf(r *gapflush.Result, gap bool) track {
	t := track{name: "flush", target: r.Seam.Flush}
	if gap {
		t.name, t.target = "gap", r.Seam.Gap
	}
	for i := range r.Stations {
		st := &r.Stations[i]
		v, n, d := st.Flush, st.FlushNominal, st.FlushVerdict
		if gap {
			v, n, d = st.Gap, st.GapNominal, st.GapVerdict
		}
		if !n.OK && t.target.HasNominal {
			n = verdict.Value{V: t.target.Nominal, OK: true}
		}
		t.value, t.nominal = append(t.value, v), append(t.nominal, n)
		t.verdict, t.state = append(t.verdict, d), append(t.state, st.State)
	}
	return t
}

// reach returns the range of values shown: all values with their U, and the tolerance with some room.
func (t *track) reach() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	grow := func(v float64) {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	for i, v := range t.value {
		if v.OK {
			grow(v.V - v.U)
			grow(v.V + v.U)
		}
		if n := t.nominal[i]; n.OK {
			grow(n.V)
			if t.target.Judged {
				grow(n.V + t.target.Tolerance.Lo)
				grow(n.V + t.target.Tolerance.Hi)
			}
		}
	}
	if lo > hi {
		return -1, 1
	}
	room := max(0.12*(hi-lo), 0.05)
	return lo - room, hi + room
}

// track draws one quantity into the rows from top to bottom.
func (s *sheet) track(axis SeamAxis, t track, top, bottom float64) {
	lo, hi := t.reach()
	y := func(v float64) float64 { return bottom - (bottom-top)*(v-lo)/(hi-lo) }
	s.trackBand(axis, &t, y, top, bottom)
	fits := func(v float64) bool { return y(v) > top+s.px(3) && y(v) < bottom-s.px(1) }
	values, places := ticksThatFit(lo, hi, max(1, int((bottom-top)/s.px(15))), s.px(11)*(hi-lo)/(bottom-top), fits)
	for _, v := range values {
		s.hline(axis.Left, axis.Right, y(v), s.th.Grid)
		if fits(v) {
			s.text(axis.Left-s.px(7), y(v)+s.px(4), small, regular, s.th.Faint, rightOf, number(v, places))
		}
	}
	s.text(s.px(12), float64((top+bottom)/2)-s.px(1), large, bold, s.th.Ink, leftOf, t.name)
	s.text(s.px(12), float64((top+bottom)/2)+s.px(12), small, regular, s.th.Faint, leftOf, "mm")
	s.trackLimits(axis, &t, y)
	s.trackMissing(axis, &t, top, bottom)
	s.trackUnjudged(axis, &t, top, bottom)
	for _, run := range t.runs(func(i int) bool { return t.value[i].OK }) {
		s.trackRun(axis, &t, run, y)
	}
	s.frame(axis.Left, top, axis.Right, bottom)
	spacing := (axis.Right - axis.Left) / float64(len(t.value))
	for _, worst := range []verdict.Verdict{verdict.NotJudged, verdict.Conforms, verdict.Undecided, verdict.DoesNotConform} {
		for i, v := range t.value {
			if !v.OK || t.verdict[i] != worst || spacing < s.px(9) && worst <= verdict.Conforms {
				continue
			}
			s.mark(axis.X(i), y(v.V), min(3.6, max(2.4, spacing/s.k/3)), worst)
		}
	}
}

// frame draws a thin border.
func (s *sheet) frame(x0, y0, x1, y1 float64) {
	s.hline(x0, x1, y0, s.th.Grid)
	s.hline(x0, x1, y1-s.hair(), s.th.Faint)
	s.vline(x0, y0, y1, s.th.Faint)
	s.vline(x1-s.hair(), y0, y1, s.th.Grid)
}

// runs returns the stretches of stations that hold, as first and last index.
func (t *track) runs(holds func(i int) bool) (runs [][2]int) {
	for i := range t.value {
		if !holds(i) {
			continue
		}
		if n := len(runs); n > 0 && runs[n-1][1] == i-1 {
			runs[n-1][1] = i
		} else {
			runs = append(runs, [2]int{i, i})
		}
	}
	return runs
}

// edges returns where a run's ground begins and ends: half way to the next station.
func (a SeamAxis) edges(run [2]int) (x0, x1 float64) {
	x0, x1 = a.Left, a.Right
	if run[0] > 0 {
		x0 = (a.X(run[0]-1) + a.X(run[0])) / 2
	}
	if run[1] < len(a.along)-1 {
		x1 = (a.X(run[1]) + a.X(run[1]+1)) / 2
	}
	return x0, x1
}

// bound returns the line nominal + offset over a run, carried on flat to its edges.
func (t *track) bound(axis SeamAxis, run [2]int, offset float64, y func(float64) float64) [][2]float64 {
	x0, x1 := axis.edges(run)
	points := [][2]float64{{x0, y(t.nominal[run[0]].V + offset)}}
	for i := run[0]; i <= run[1]; i++ {
		points = append(points, [2]float64{axis.X(i), y(t.nominal[i].V + offset)})
	}
	return append(points, [2]float64{x1, y(t.nominal[run[1]].V + offset)})
}

func (t *track) hasNominal(i int) bool { return t.nominal[i].OK }

// within keeps a line's heights between two rows.
func within(points [][2]float64, top, bottom float64) [][2]float64 {
	for i := range points {
		points[i][1] = max(top, min(bottom, points[i][1]))
	}
	return points
}

// trackBand shades the tolerance.
func (s *sheet) trackBand(axis SeamAxis, t *track, y func(float64) float64, top, bottom float64) {
	if !t.target.Judged {
		return
	}
	for _, run := range t.runs(t.hasNominal) {
		outline := within(t.bound(axis, run, t.target.Tolerance.Hi, y), top, bottom)
		lower := within(t.bound(axis, run, t.target.Tolerance.Lo, y), top, bottom)
		for i := len(lower) - 1; i >= 0; i-- {
			outline = append(outline, lower[i])
		}
		s.area(outline, s.th.Band, 255)
	}
}

// trackLimits draws the limits of the tolerance and the nominal.
func (s *sheet) trackLimits(axis SeamAxis, t *track, y func(float64) float64) {
	for _, run := range t.runs(t.hasNominal) {
		if t.target.Judged {
			s.stroke(t.bound(axis, run, t.target.Tolerance.Lo, y), 1, s.th.Limit)
			s.stroke(t.bound(axis, run, t.target.Tolerance.Hi, y), 1, s.th.Limit)
		}
		nominal := t.bound(axis, run, 0, y)
		for i := 1; i < len(nominal); i++ {
			s.dashes(nominal[i-1], nominal[i], s.th.Limit)
		}
	}
}

// dashes draws a dashed line in any direction, its dashes tied to x so that pieces join.
func (s *sheet) dashes(p, q [2]float64, c color.RGBA) {
	period, on := s.px(8), s.px(4)
	if !(q[0] > p[0]) {
		return
	}
	for x := float64(math.Floor(p[0]/period) * period); x < q[0]; x += period {
		a, b := max(x, p[0]), min(x+on, q[0])
		if a < b {
			at := func(x float64) float64 { return p[1] + float64((q[1]-p[1])*(x-p[0])/(q[0]-p[0])) }
			s.line(a, at(a), b, at(b), 1, c)
		}
	}
}

// trackRun draws the uncertainty and the line of a stretch with numbers.
func (s *sheet) trackRun(axis SeamAxis, t *track, run [2]int, y func(float64) float64) {
	var upper, lower, middle [][2]float64
	for i := run[0]; i <= run[1]; i++ {
		x, v := axis.X(i), t.value[i]
		upper = append(upper, [2]float64{x, y(v.V + v.U)})
		lower = append(lower, [2]float64{x, y(v.V - v.U)})
		middle = append(middle, [2]float64{x, y(v.V)})
	}
	if run[0] == run[1] { // one station alone: a whisker
		x := middle[0][0]
		s.line(x, upper[0][1], x, lower[0][1], 1.5, s.th.Line)
		return
	}
	for i := len(lower) - 1; i >= 0; i-- {
		upper = append(upper, lower[i])
	}
	s.area(upper, s.th.Ribbon, 170)
	s.stroke(middle, 1.5, s.th.Line)
}

// trackMissing hatches the stretches without a number and says why, along the
// seam where there is room, else upward.
func (s *sheet) trackMissing(axis SeamAxis, t *track, top, bottom float64) {
	for _, run := range t.runs(func(i int) bool { return !t.value[i].OK }) {
		x0, x1 := axis.edges(run)
		s.hatch(x0, top, x1, bottom)
		for i := run[0]; i <= run[1]; i++ {
			s.hollow(axis.X(i), bottom-s.px(6), 3)
		}
		for first := run[0]; first <= run[1]; {
			last := first
			for last < run[1] && t.state[last+1] == t.state[first] {
				last++
			}
			x0, x1 := axis.edges([2]int{first, last})
			s.reason(missingWord(t.state[first]), x0, x1, top, bottom-s.px(14))
			first = last + 1
		}
	}
}

// reason writes a word into the middle of a rectangle, level or upward, whichever it has room for.
func (s *sheet) reason(word string, x0, x1, top, bottom float64) {
	wide, mid, row := s.width(small, regular, word), float64((x0+x1)/2), float64((top+bottom)/2)
	switch {
	case wide+s.px(8) < x1-x0 && bottom-top > s.px(20):
		s.rect(mid-float64(wide/2)-s.px(3), row-s.px(10), mid+float64(wide/2)+s.px(3), row+s.px(5), s.th.Paper)
		s.text(mid, row+s.px(1), small, regular, s.th.Faint, middleOf, word)
	case x1-x0 >= s.px(13) && wide+s.px(8) < bottom-top:
		s.rect(mid-s.px(7), row-float64(wide/2)-s.px(3), mid+s.px(7), row+float64(wide/2)+s.px(3), s.th.Paper)
		s.upText(mid+s.px(4), row, small, regular, s.th.Faint, word)
	}
}

// trackUnjudged says where there is a number and no nominal, so that the band ends with a reason.
func (s *sheet) trackUnjudged(axis SeamAxis, t *track, top, bottom float64) {
	if !t.target.Judged {
		return
	}
	for _, run := range t.runs(func(i int) bool { return t.value[i].OK && !t.hasNominal(i) }) {
		x0, x1 := axis.edges(run)
		for _, words := range []string{"no nominal, not judged", "no nominal"} {
			if s.width(small, regular, words)+s.px(8) < x1-x0 && bottom-top > s.px(30) {
				s.text((x0+x1)/2, top+s.px(12), small, regular, s.th.Faint, middleOf, words)
				break
			}
		}
	}
}

// hatch draws slanting lines over a rectangle.
func (s *sheet) hatch(x0, y0, x1, y1 float64) {
	step, h, ink := s.px(6), y1-y0, s.th.hatchInk()
	for x := float64(math.Floor((x0-h)/step) * step); x < x1; x += step {
		// The line runs from (x, y1) up to (x + h, y0), cut to the rectangle.
		a, b := max(x, x0), min(x+h, x1)
		if a < b {
			s.line(a, y1-(a-x), b, y1-(b-x), 1, ink)
		}
	}
}

// alongAxis writes the common axis below the plots; its labels end left of right.
func (s *sheet) alongAxis(axis SeamAxis, bottom, right float64) {
	s.text(s.px(12), bottom+s.px(16), small, regular, s.th.Faint, leftOf, "along, mm")
	values, places := ticks(axis.From, axis.To, max(2, int((axis.Right-axis.Left)/(s.px(80)))))
	for _, v := range values {
		x, text := axis.at(v), number(v, places)
		s.vline(x, bottom, bottom+s.px(4), s.th.Faint)
		if x+float64(s.width(small, regular, text)/2) < right {
			s.text(x, bottom+s.px(16), small, regular, s.th.Faint, middleOf, text)
		}
	}
}

// seamMarker draws the line through the selected station.
func (s *sheet) seamMarker(axis SeamAxis, marker int, top, bottom float64) {
	x := axis.X(marker)
	s.wash(x-s.px(0.75), top-s.px(3), x+s.px(0.75), bottom+s.px(3), s.th.Accent, 170)
	s.area([][2]float64{{x - s.px(4.5), top - s.px(6)}, {x + s.px(4.5), top - s.px(6)}, {x, top}}, s.th.Accent, 255)
}

// seamHeader writes the seam's name and verdict on the left, the selected station's or the seam's figures on the right, and returns where it is free between them.
func (s *sheet) seamHeader(r *gapflush.Result, marker int, axis SeamAxis) (free [2]float64) {
	row := s.px(15)
	ink, choices := s.th.Faint, seamFigures(r)
	if marker >= 0 && marker < len(r.Stations) {
		ink, choices = s.th.Accent, stationFigures(&r.Stations[marker])
	}
	room := axis.Right - s.px(12)
	figures := ""
	for _, c := range choices {
		// The name keeps at least three tenths; figures are left out whole, never cut.
		if s.width(small, regular, c) <= room*0.7 {
			figures = c
			break
		}
	}
	s.text(axis.Right, row, small, regular, ink, rightOf, figures)
	left := room - s.width(small, regular, figures) - s.px(20)
	word, need := "", 0.0
	choices = r.Words()
	for k, said := range choices {
		least := s.px(40) // for the shortest the name is cut, for a fuller one hardly
		if k < len(choices)-1 {
			least = min(s.width(large, bold, r.Seam.Name), s.px(140))
		}
		if wide := s.width(small, regular, said) + s.px(30); left-wide >= least {
			word, need = said, wide
			break
		}
	}
	name := s.shorten(large, bold, r.Seam.Name, left-need)
	x := s.text(s.px(12), row, large, bold, s.th.Ink, leftOf, name)
	if word != "" && need < left {
		s.mark(x+s.px(15), row-s.px(4), 4, r.Verdict)
		x = s.text(x+s.px(24), row, small, regular, s.th.verdictColor(r.Verdict), leftOf, word)
	}
	return [2]float64{x + s.px(20), axis.Right - s.width(small, regular, figures) - s.px(20)}
}

// stationFigures is a station in one line, from the fullest wording to the shortest.
func stationFigures(st *gapflush.Station) []string {
	name := "station " + number(float64(st.Index), 0)
	values := "gap " + withU(st.Gap, false) + "   flush " + withU(st.Flush, true)
	if st.Gap.OK || st.Flush.OK {
		values += " mm"
	}
	full := name + " at " + number(st.Along, 1) + " mm:  " + values
	if st.State != gapflush.Measured && st.State != "" {
		return []string{full + "   " + string(st.State), full, values, name}
	}
	return []string{full, values, name}
}

// seamFigures is the seam's summary in one line, from the fullest wording to the shortest.
func seamFigures(r *gapflush.Result) []string {
	text := number(float64(r.Measured), 0) + " of " + number(float64(len(r.Stations)), 0) + " stations measured"
	choices := []string{text}
	add := func(more string) {
		text += more
		choices = append([]string{text}, choices...)
	}
	if r.GapMin.OK && r.GapMax.OK {
		add(";  gap " + number(r.GapMin.V, 2) + " to " + number(r.GapMax.V, 2) + " mm")
	}
	if r.FlushMin.OK && r.FlushMax.OK {
		add(";  flush " + signed(r.FlushMin.V, 2) + " to " + signed(r.FlushMax.V, 2) + " mm")
	}
	if r.Taper.OK {
		add(";  taper " + signed(r.Taper.V, 2) + " mm per 100 mm")
	}
	return choices
}
