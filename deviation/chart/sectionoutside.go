package chart

import (
	"math"
	"sort"

	"shutline/deviation"
	"shutline/deviation/crosscut"
)

// Layout units of the arrows that show a curve's outside.
const (
	outsideFrom, outsideLong = 4.0, 24.0 // off the curve: where an arrow begins, and its point
	outsideHead              = 7.0       // of its head, which is two thirds as wide
	outsideApart             = 160.0     // of two arrows
	outsideLeast             = 60.0      // of a curve that has one
	mostOutside              = 4
	// straightAbout: a place whose curve turns its outside by more than 20° within so many layout units shows none.
	straightAbout = 12.0
)

// outsideMark is an arrow from a curve to its outside, as the faces that were cut look.
type outsideMark struct {
	foot, point [2]float64 // pixels
	head        [3][2]float64
}

// outsideMarks chooses the places of arrows that show which side of a section's curve is outside: of the reference's where
// there is one, since deviations are counted from it, where they cross least of what is drawn; beside the scan as far as
// deviations were measured there, as the outside of a hem's return looks into the body.
func (s *sheet) outsideMarks(p sectionPlane, cut *crosscut.Section, busy [][2]float64) (marks []outsideMark) {
	curves := cut.Reference
	if len(curves) == 0 {
		curves = cut.Scan
	}
	compared := p.compared(cut)
	type candidate struct {
		mark outsideMark
		cost float64
	}
	var list []candidate
	for i := range curves {
		c := &curves[i]
		if len(c.Out) != len(c.Points) || p.drawnLength(c) < s.px(outsideLeast) {
			continue
		}
		for _, at := range s.placesAlong(p, c) {
			m := s.outsideMark(at.on, at.out)
			if !p.holds(m.foot, s.px(2)) || !p.holds(m.point, s.px(10)) || !at.straight {
				continue
			}
			cost := 0.0
			if len(compared) > 0 && !nearAny(compared, at.on, s.px(outsideLong)) {
				cost = math.Inf(1) // only where there is nothing better
			}
			for _, q := range busy {
				if alongside(q, m.foot, m.point) < s.px(4) {
					cost++
				}
			}
			list = append(list, candidate{m, cost})
		}
	}
	sort.SliceStable(list, func(a, b int) bool { return list[a].cost < list[b].cost })
	for _, c := range list {
		free := len(marks) < mostOutside && (len(marks) == 0 || !math.IsInf(c.cost, 1))
		for _, m := range marks {
			free = free && hypot(m.foot[0]-c.mark.foot[0], m.foot[1]-c.mark.foot[1]) >= s.px(outsideApart)
		}
		if free {
			marks = append(marks, c.mark)
		}
	}
	return marks
}

// compared are the places of the scan's curves that have a deviation, in the picture.
func (p sectionPlane) compared(cut *crosscut.Section) (list [][2]float64) {
	for i := range cut.Scan {
		c := &cut.Scan[i]
		for k := range c.State {
			if c.State[k] == deviation.Measured {
				list = append(list, p.at(c.Points[k]))
			}
		}
	}
	return list
}

func nearAny(list [][2]float64, at [2]float64, far float64) bool {
	for _, q := range list {
		if hypot(q[0]-at[0], q[1]-at[1]) <= far {
			return true
		}
	}
	return false
}

// outsideMark is the arrow from a place of a curve, out being its outside in the picture.
func (s *sheet) outsideMark(on, out [2]float64) (m outsideMark) {
	along := func(far, aside float64) [2]float64 {
		return [2]float64{on[0] + float64(s.px(far)*out[0]) - float64(s.px(aside)*out[1]), on[1] + float64(s.px(far)*out[1]) + float64(s.px(aside)*out[0])}
	}
	m.foot, m.point = along(outsideFrom, 0), along(outsideLong, 0)
	m.head = [3][2]float64{m.point, along(outsideLong-outsideHead, outsideHead/3), along(outsideLong-outsideHead, -outsideHead/3)}
	return m
}

// outsideArrow draws it, on a ground that parts it from whiskers.
func (s *sheet) outsideArrow(m outsideMark) {
	c := s.th.Accent
	s.line(m.foot[0], m.foot[1], m.point[0], m.point[1], 4, s.th.Paper)
	neck := [2]float64{(m.head[1][0] + m.head[2][0]) / 2, (m.head[1][1] + m.head[2][1]) / 2}
	s.line(m.foot[0], m.foot[1], neck[0], neck[1], 1.6, c)
	s.area(m.head[:], c, 255)
}

// placeOut is a place on a curve and its outside, in the picture.
type placeOut struct {
	on, out  [2]float64
	straight bool
}

// placesAlong returns places of a curve at equal steps, with the mean of the outsides about them.
func (s *sheet) placesAlong(p sectionPlane, c *crosscut.Curve) (list []placeOut) {
	const (
		step       = 10.0 // layout units
		mostPlaces = 5000 // of a curve that runs far out of the drawing
	)
	type leg struct {
		a, b  [2]float64
		out   [2]float64
		begin float64
	}
	var legs []leg
	passed := 0.0
	n := len(c.Points)
	for k := range n {
		to := k + 1
		if to == n {
			if !c.Closed {
				break
			}
			to = 0
		}
		a, b := p.at(c.Points[k]), p.at(c.Points[to])
		l := hypot(b[0]-a[0], b[1]-a[1])
		if l == 0 {
			continue
		}
		// A facet's own outside lies square to it, on the side that its places' outsides tell.
		o := [2]float64{(b[1] - a[1]) / l, -(b[0] - a[0]) / l}
		told := [2]float64{c.Out[k].H + c.Out[to].H, -c.Out[k].V - c.Out[to].V}
		if float64(o[0]*told[0])+float64(o[1]*told[1]) < 0 {
			o = [2]float64{-o[0], -o[1]}
		}
		legs = append(legs, leg{a, b, o, passed})
		passed += l
	}
	half := s.px(straightAbout)
	first := 0
	apart := max(s.px(step), passed/mostPlaces)
	for at := apart; at < passed; at += apart {
		for first < len(legs) && legs[first].begin+hypot(legs[first].b[0]-legs[first].a[0], legs[first].b[1]-legs[first].a[1]) < at-half {
			first++
		}
		var sum, on [2]float64
		total := 0.0
		for k := first; k < len(legs) && legs[k].begin <= at+half; k++ {
			l := hypot(legs[k].b[0]-legs[k].a[0], legs[k].b[1]-legs[k].a[1])
			w := min(legs[k].begin+l, at+half) - max(legs[k].begin, at-half)
			sum[0] += float64(w * legs[k].out[0])
			sum[1] += float64(w * legs[k].out[1])
			total += w
			if legs[k].begin <= at {
				t := min((at-legs[k].begin)/l, 1)
				on = [2]float64{legs[k].a[0] + float64(t*(legs[k].b[0]-legs[k].a[0])), legs[k].a[1] + float64(t*(legs[k].b[1]-legs[k].a[1]))}
			}
		}
		l := hypot(sum[0], sum[1])
		if !(total > 0) || !(l > 0) {
			continue
		}
		// Evenly spread over ±20° the mean is as long as sin 20° / 20°.
		list = append(list, placeOut{on, [2]float64{sum[0] / l, sum[1] / l}, l >= 0.98*total})
	}
	return list
}

// drawnLength is how long a curve is in the picture, pixels.
func (p sectionPlane) drawnLength(c *crosscut.Curve) (long float64) {
	for k := 1; k < len(c.Points); k++ {
		long += float64(hypot(c.Points[k].H-c.Points[k-1].H, c.Points[k].V-c.Points[k-1].V) * p.scale)
	}
	return long
}

// holds reports whether a place lies within the frame, at least so many pixels from it.
func (p sectionPlane) holds(q [2]float64, off float64) bool {
	return q[0] >= p.x0+off && q[0] <= p.x1-off && q[1] >= p.y0+off && q[1] <= p.y1-off
}

// alongside is how far a place lies from a line between two others; infinite before its beginning.
func alongside(q, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	l := hypot(dx, dy)
	if !(l > 0) {
		return math.Inf(1)
	}
	t := (float64((q[0]-a[0])*dx) + float64((q[1]-a[1])*dy)) / (l * l)
	if t < 0 {
		return math.Inf(1)
	}
	t = min(t, 1)
	return hypot(q[0]-a[0]-float64(t*dx), q[1]-a[1]-float64(t*dy))
}
