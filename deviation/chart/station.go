package chart

import (
	"image"
	"image/color"
	"math"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Station draws a station's profile to scale, with what was fitted and
// measured: dots are scan points, thin lines the cut, heavy lines the fitted
// faces and edges (dashed where carried on), gap and flush are dimensioned.
// A is on the left; up is outward.
func Station(w, h int, th Theme, scale float64, seam gapflush.Seam, st *gapflush.Station) *image.RGBA {
	return drawStation(w, h, th, scale, seam, st).img
}

// plane carries a station's plane into the picture.
type plane struct {
	x0, y0, x1, y1 float64 // the drawing's place, device pixels
	s, h           float64 // mm in its middle
	scale          float64 // device pixels per mm
}

func (p plane) at(q gapflush.Point2) [2]float64 {
	return [2]float64{float64((p.x0+p.x1)/2) + float64((q.S-p.s)*p.scale), float64((p.y0+p.y1)/2) - float64((q.H-p.h)*p.scale)}
}

// step returns a + d*u.
func step(a gapflush.Point2, d float64, u gapflush.Point2) gapflush.Point2 {
	return gapflush.Point2{S: a.S + float64(d*u.S), H: a.H + float64(d*u.H)}
}

func dot2(a, b gapflush.Point2) float64 { return float64(a.S*b.S) + float64(a.H*b.H) }
func sub2(a, b gapflush.Point2) gapflush.Point2 {
	return gapflush.Point2{S: a.S - b.S, H: a.H - b.H}
}

func drawStation(w, h int, th Theme, scale float64, seam gapflush.Seam, st *gapflush.Station) *sheet {
	s := newSheet(w, h, th, scale)
	if st == nil || s.w < s.px(120) || s.h < s.px(90) {
		return s
	}
	panel := 0.0
	if s.w >= s.px(540) {
		panel = s.px(208)
	}
	foot := s.px(22)
	if panel == 0 {
		foot = s.px(54)
		if st.State != gapflush.Measured {
			foot = s.px(82)
		}
	}
	p := s.planeOf(seam, st, s.px(8), s.px(52), s.w-panel-s.px(8), s.h-foot-s.px(6))
	s.cut(p, st)
	for k := range st.Side {
		s.sideFit(p, &st.Side[k], s.sideColor(k))
	}
	s.points(p, st)
	s.rect(0, 0, s.w, s.px(26), th.Paper)
	s.rect(0, p.y1, s.w, s.h, th.Paper)
	s.rect(0, 0, p.x0, s.h, th.Paper)
	s.rect(p.x1, 0, s.w, s.h, th.Paper)
	if panel > 0 {
		s.rect(s.w-panel, 0, s.w, s.h, th.Paper)
	}
	s.dimensions(p, seam, st)
	s.sideNames(p, seam, st)
	s.stationHeader(seam, st, s.w-panel)
	s.bar(s.px(12), s.h-s.px(7), p.scale, min(s.px(90), s.w/4), th.Paper)
	if panel > 0 {
		s.stationLegend(st, s.px(150), s.w-panel-s.px(12), s.h-s.px(7))
		s.stationPanel(seam, st, s.w-panel+s.px(6))
	} else {
		s.stationFoot(seam, st)
	}
	return s
}

func (s *sheet) sideColor(side int) color.RGBA {
	if side == int(gapflush.A) {
		return s.th.Line
	}
	return s.th.Second
}

// fitted reports whether there is a fit to draw; a bridged side is found, yet without one.
func fitted(f *gapflush.SideFit) bool { return f.Found && f.Tangent != (gapflush.Point2{}) }

// planeOf chooses what is shown: both face zones and edges where they were
// found, else everything within the window.
func (s *sheet) planeOf(seam gapflush.Seam, st *gapflush.Station, x0, y0, x1, y1 float64) plane {
	lo := gapflush.Point2{S: math.Inf(1), H: math.Inf(1)}
	hi := gapflush.Point2{S: math.Inf(-1), H: math.Inf(-1)}
	grow := func(q gapflush.Point2) {
		lo = gapflush.Point2{S: min(lo.S, q.S), H: min(lo.H, q.H)}
		hi = gapflush.Point2{S: max(hi.S, q.S), H: max(hi.H, q.H)}
	}
	for k := range st.Side {
		f := &st.Side[k]
		if fitted(f) {
			grow(step(f.Shoulder, -f.FaceTo-2, f.Tangent))
			grow(step(f.Shoulder, -float64(2*f.Radius)-3, f.Normal))
			grow(step(f.Shoulder, 1.5, f.Normal))
			grow(f.Nose)
		}
	}
	if !fitted(&st.Side[0]) || !fitted(&st.Side[1]) {
		grow(gapflush.Point2{S: -seam.Window})
		grow(gapflush.Point2{S: seam.Window})
		for _, line := range st.Profile {
			for _, q := range line {
				grow(q)
			}
		}
		for _, q := range st.Points {
			grow(q)
		}
	}
	if lo.S > hi.S {
		r := max(seam.Window, 1)
		grow(gapflush.Point2{S: -r, H: -r / 2})
		grow(gapflush.Point2{S: r, H: r / 2})
	}
	p := plane{x0: x0, y0: y0, x1: x1, y1: y1, s: (lo.S + hi.S) / 2, h: (lo.H + hi.H) / 2}
	p.scale = min((x1-x0)/max(hi.S-lo.S, 1), (y1-y0)/max(hi.H-lo.H, 1))
	return p
}

// cut draws the profile.
func (s *sheet) cut(p plane, st *gapflush.Station) {
	for _, line := range st.Profile {
		points := make([][2]float64, len(line))
		for i, q := range line {
			points[i] = p.at(q)
		}
		s.stroke(points, 1, s.th.Limit)
	}
}

// points draws the scan's points, over the fits, so that one sees how they scatter about them.
func (s *sheet) points(p plane, st *gapflush.Station) {
	for _, q := range st.Points {
		at := p.at(q)
		if at[0] >= p.x0 && at[0] <= p.x1 && at[1] >= p.y0 && at[1] <= p.y1 {
			s.dot(at[0], at[1], 1.1, s.th.Ink)
		}
	}
}

// pastNose is how far, in radians, an edge is drawn past its nose: as far as the feeler reaches.
const pastNose = 30 * math.Pi / 180

// sideFit draws a side's face, edge, shoulder and nose.
func (s *sheet) sideFit(p plane, f *gapflush.SideFit, c color.RGBA) {
	if !fitted(f) {
		return
	}
	face := func(from, to float64) (line [][2]float64) {
		const pieces = 16
		for i := range pieces + 1 {
			d := from + float64((to-from)*float64(i)/pieces)
			line = append(line, p.at(step(step(f.Shoulder, -d, f.Tangent), -f.Curvature*d*d/2, f.Normal)))
		}
		return line
	}
	s.stroke(face(0, f.FaceFrom), 1.2, c)
	s.stroke(face(f.FaceFrom, f.FaceTo), 3, c)
	for _, d := range []float64{f.FaceFrom, f.FaceTo} {
		q := step(f.Shoulder, -d, f.Tangent)
		s.tick(p, step(q, -f.Curvature*d*d/2, f.Normal), f.Normal, 4, c)
	}
	switch {
	case f.Edge == gapflush.Chamfer && f.NoseState != gapflush.Unseen:
		a, b := p.at(f.Shoulder), p.at(f.Nose)
		if f.Flange { // the nose lies down the wall
			from := p.at(f.FlangeFrom)
			s.line(a[0], a[1], from[0], from[1], 2.2, c)
			a = from
		}
		s.line(a[0], a[1], b[0], b[1], 2.2, c)
	case f.Edge == gapflush.Round && f.Radius > 0:
		s.edgeArc(p, f, c)
	}
	s.tick(p, f.Shoulder, f.Normal, 6, c)
	at := p.at(f.Nose)
	switch f.NoseState {
	case gapflush.Seen:
		s.dot(at[0], at[1], 4.2, s.th.Paper)
		s.dot(at[0], at[1], 3.2, c)
	case gapflush.Carried:
		s.dot(at[0], at[1], 4.2, s.th.Paper)
		s.ring(at[0], at[1], 2.8, 1.4, c)
	}
}

// tick draws a short line square to the face through q, half above and half below.
func (s *sheet) tick(p plane, q, normal gapflush.Point2, size float64, c color.RGBA) {
	at := p.at(q)
	x, y := s.px(normal.S*size), -s.px(normal.H*size)
	s.line(at[0]-x, at[1]-y, at[0]+x, at[1]+y, 1.2, c)
}

// edgeArc draws the rollover, solid as far as it was seen, dashed where it was carried on, and a flange that leads on from it to the nose.
func (s *sheet) edgeArc(p plane, f *gapflush.SideFit, c color.RGBA) {
	centre := step(f.Shoulder, -f.Radius, f.Normal)
	at := func(phi float64) [2]float64 {
		sin, cos := geom.Sincos(phi)
		return p.at(step(step(centre, f.Radius*sin, f.Tangent), f.Radius*cos, f.Normal))
	}
	end := math.Pi / 2
	if f.NoseState != gapflush.Unseen {
		d := sub2(f.Nose, centre)
		end = geom.Atan2(dot2(d, f.Tangent), dot2(d, f.Normal))
	}
	const stepAngle = 4 * math.Pi / 180
	last := end + pastNose
	switch {
	case f.NoseState == gapflush.Unseen:
		last = f.SeenTo
	case f.Flange:
		d := sub2(f.FlangeFrom, centre)
		end = geom.Atan2(dot2(d, f.Tangent), dot2(d, f.Normal))
		last = end
		a, b := p.at(f.FlangeFrom), p.at(f.Nose)
		s.line(a[0], a[1], b[0], b[1], 2.2, c)
	}
	for i, phi := 0, 0.0; phi < last; i, phi = i+1, phi+stepAngle {
		to := min(phi+stepAngle, last)
		if phi < f.SeenTo {
			a, b := at(phi), at(to)
			s.line(a[0], a[1], b[0], b[1], 2.2, c)
		} else if i%3 < 2 && phi < end {
			a, b := at(phi), at(to)
			s.line(a[0], a[1], b[0], b[1], 1.6, c)
		}
	}
}

// dimensions draws gap and flush as a technical drawing does.
func (s *sheet) dimensions(p plane, seam gapflush.Seam, st *gapflush.Station) {
	master, other := &st.Side[seam.Master], &st.Side[1-seam.Master]
	if !fitted(master) || !fitted(other) {
		return
	}
	if st.Gap.OK {
		s.gapDimension(p, seam, st, master, other)
	}
	if st.Flush.OK {
		s.flushDimension(p, st, master, other)
	}
}

func (s *sheet) gapDimension(p plane, seam gapflush.Seam, st *gapflush.Station, master, other *gapflush.SideFit) {
	// The dimension line stands above both faces, square to the master's normal.
	c := s.th.verdictColor(st.GapVerdict)
	level := 0.0
	for _, f := range []*gapflush.SideFit{master, other} {
		level = max(level, dot2(sub2(f.Shoulder, master.Shoulder), master.Normal))
	}
	level += float64(s.px(20) / p.scale)
	var ends [2][2]float64
	for i, nose := range []gapflush.Point2{master.Nose, other.Nose} {
		up := level - dot2(sub2(nose, master.Shoulder), master.Normal)
		a, b := p.at(step(nose, s.px(6)/p.scale, master.Normal)), p.at(step(nose, up+s.px(4)/p.scale, master.Normal))
		s.line(a[0], a[1], b[0], b[1], 1, c)
		ends[i] = p.at(step(nose, up, master.Normal))
	}
	s.dimension(ends[0], ends[1], c)
	mid := [2]float64{(ends[0][0] + ends[1][0]) / 2, min(ends[0][1], ends[1][1]) - s.px(9)}
	if s.narrow() && math.Abs(mid[1]-s.px(namesAt)) < s.px(18) { // beside the sides' names, not across them
		names := s.names(p, seam, st)
		p.x0 += s.px(10) + s.width(normal, bold, names[0])
		p.x1 -= s.px(10) + s.width(normal, bold, names[1])
	}
	s.label(mid[0], mid[1], gapText(st), c, middleOf, p)
}

// narrow reports whether the dimension of the gap reaches up to the sides' names.
func (s *sheet) narrow() bool { return s.w < s.px(540) }

func gapText(st *gapflush.Station) string { return "gap " + withU(st.Gap, false) + " mm" }

// flushDimension draws the height of the other shoulder over the master's carried-on face.
func (s *sheet) flushDimension(p plane, st *gapflush.Station, master, other *gapflush.SideFit) {
	c := s.th.verdictColor(st.FlushVerdict)
	toward := master.Tangent
	reach := dot2(sub2(other.Shoulder, master.Shoulder), toward) + s.px(26)/p.scale
	end := step(master.Shoulder, reach, toward)
	a, b := p.at(master.Shoulder), p.at(end)
	s.dashed2(a, b, s.sideColor(sideOf(st, master)))
	foot := p.at(step(end, -s.px(6)/p.scale, toward))
	top := p.at(step(step(end, -s.px(6)/p.scale, toward), st.Flush.V, master.Normal))
	from, to := p.at(other.Shoulder), p.at(step(step(end, 0, toward), st.Flush.V, master.Normal))
	s.line(from[0], from[1], to[0], to[1], 1, c)
	s.dimension(foot, top, c)
	text := "flush " + withU(st.Flush, true) + " mm"
	below := max(foot[1], top[1]) + s.px(38)
	// Beside the other panel's edge, not across it.
	aside := float64(s.width(normal, bold, text) / 2)
	if toward.S < 0 {
		aside = -aside
	}
	s.label(foot[0]+aside, below, text, c, middleOf, p)
}

func sideOf(st *gapflush.Station, f *gapflush.SideFit) int {
	if f == &st.Side[0] {
		return 0
	}
	return 1
}

// dashed2 draws a thin dashed line between two points.
func (s *sheet) dashed2(a, b [2]float64, c color.RGBA) {
	l := hypot(b[0]-a[0], b[1]-a[1])
	if !(l > 0) {
		return
	}
	for d := 0.0; d < l; d += s.px(7) {
		e := min(d+s.px(4), l)
		s.line(a[0]+float64((b[0]-a[0])*d/l), a[1]+float64((b[1]-a[1])*d/l), a[0]+float64((b[0]-a[0])*e/l), a[1]+float64((b[1]-a[1])*e/l), 1, c)
	}
}

// dimension draws a measure between two points: arrows inside, or from outside where it is short.
func (s *sheet) dimension(a, b [2]float64, c color.RGBA) {
	l := hypot(b[0]-a[0], b[1]-a[1])
	dx, dy := 0.0, 1.0
	if l > 0 {
		dx, dy = (b[0]-a[0])/l, (b[1]-a[1])/l
	}
	if l > s.px(20) {
		s.line(a[0], a[1], b[0], b[1], 1, c)
		s.arrow(a[0], a[1], -dx, -dy, c)
		s.arrow(b[0], b[1], dx, dy, c)
		return
	}
	out := s.px(18)
	s.line(a[0]-float64(dx*out), a[1]-float64(dy*out), b[0]+float64(dx*out), b[1]+float64(dy*out), 1, c)
	s.arrow(a[0], a[1], dx, dy, c)
	s.arrow(b[0], b[1], -dx, -dy, c)
}

// label writes a text on a ground of paper, kept inside the drawing.
func (s *sheet) label(x, y float64, text string, c color.RGBA, a anchor, p plane) {
	wide := s.width(normal, bold, text)
	x = max(p.x0+float64(wide/2)+s.px(2), min(p.x1-float64(wide/2)-s.px(2), x))
	y = max(p.y0-s.px(8), min(p.y1-s.px(6), y))
	s.wash(x-float64(wide/2)-s.px(4), y-s.px(12), x+float64(wide/2)+s.px(4), y+s.px(4), s.th.Paper, 225)
	s.text(x, y, normal, bold, c, a, text)
}

// namesAt is the height of the sides' names, unscaled pixels from the top.
const namesAt = 42

// sideNames writes A and B with the panels' names, where the seam's name holds
// them ("wing to door"), and with the master named.
func (s *sheet) sideNames(p plane, seam gapflush.Seam, st *gapflush.Station) {
	names := s.names(p, seam, st)
	s.text(p.x0+s.px(6), s.px(namesAt), normal, bold, s.sideColor(0), leftOf, names[0])
	s.text(p.x1-s.px(6), s.px(namesAt), normal, bold, s.sideColor(1), rightOf, names[1])
}

// names returns the sides' names as far as there is room for them.
func (s *sheet) names(p plane, seam gapflush.Seam, st *gapflush.Station) (names [2]string) {
	panels, _ := seam.Panels()
	half := float64((p.x1-p.x0)/2) - s.px(12)
	if s.narrow() && st.Gap.OK {
		half -= float64(s.width(normal, bold, gapText(st))/2) + s.px(6)
	}
	room := [2]float64{half, half}
	var letters, tails [2]string
	for k, side := range []string{"A", "B"} {
		letters[k] = side
		if k == int(seam.Master) {
			tails[k] = ", master"
		}
		if over := s.width(normal, bold, side+tails[k]) - half; over > 0 {
			room[k] += over
			room[1-k] -= over // what must be said on one side is taken from the other
		}
	}
	for k, side := range letters {
		// Which side is which must be told by more than a letter, so that a panel's name is shortened first.
		way := stationWay(st, k)
		if s.width(normal, bold, side+tails[k]+way) > room[k] {
			way = ""
		}
		tail := tails[k] + way
		names[k] = side + tail
		left := room[k] - s.width(normal, bold, side+": "+tail)
		const leastName = 24 // under which a shortened name tells nothing
		if panels[k] != "" && (left >= s.px(leastName) || left >= s.width(normal, bold, panels[k])) {
			names[k] = side + ": " + s.shorten(normal, bold, panels[k], left) + tail
		}
	}
	return names
}

func (s *sheet) stationHeader(seam gapflush.Seam, st *gapflush.Station, right float64) {
	tail := "station " + number(float64(st.Index), 0) + " at " + number(st.Along, 1) + " mm"
	room := right - s.px(24)
	tail = s.shorten(small, regular, tail, room*0.6)
	s.text(right-s.px(12), s.px(17), small, regular, s.th.Faint, rightOf, tail)
	name := s.shorten(large, bold, seam.Name, room-s.width(small, regular, tail)-s.px(14))
	s.text(s.px(12), s.px(17), large, bold, s.th.Ink, leftOf, name)
}

// figure is one measured quantity with its decision.
type figure struct {
	name    string
	value   verdict.Value
	nominal verdict.Value
	signed  bool
	verdict verdict.Verdict
	target  gapflush.Target
}

func figuresOf(seam gapflush.Seam, st *gapflush.Station) []figure {
	return []figure{
		{"gap", st.Gap, st.GapNominal, false, st.GapVerdict, seam.Gap},
		{"flush", st.Flush, st.FlushNominal, true, st.FlushVerdict, seam.Flush},
	}
}
