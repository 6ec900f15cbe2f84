package chart

import (
	"image/color"
	"math"

	"shutline/deviation/crosscut"
)

const (
	// insetBelow is how large a read radius must be drawn, layout units, to need no inset.
	insetBelow = 16.0
	insetTall  = 118.0 // layout units of the drawing in an inset; its words stand below
	insetWords = 19.0
	insetWide  = 132.0 // at least; its words may ask for more
	insetShows = 2.2   // radii either way
	mostInsets = 3
)

// insets draws radius read-outs that are dots in the section itself larger, each in a box where it covers least
// of what is drawn, and returns the boxes and which readings they show.
func (s *sheet) insets(p sectionPlane, cut *crosscut.Section, busy [][2]float64) (boxes [][4]float64, shown map[int]bool) {
	shown = map[int]bool{}
	for i := range cut.Readings {
		r := &cut.Readings[i]
		if r.Kind != "radius" || !r.Scan.OK || r.Scan.V*p.scale >= s.px(insetBelow) || len(boxes) == mostInsets {
			continue
		}
		text := readingText(r)
		wide := max(s.px(insetWide), s.width(small, bold, text)+s.px(12))
		tall := s.px(insetTall + insetWords)
		if wide > (p.x1-p.x0)*0.6 || tall > (p.y1-p.y0)*0.6 {
			continue
		}
		at := p.at(r.At[0])
		box, ok := s.roomFor(p, wide, tall, at, busy, boxes)
		if !ok {
			continue
		}
		s.inset(p, cut, r, box, text)
		boxes, shown[i] = append(boxes, box), true
	}
	return boxes, shown
}

// roomFor returns the place for a box at which it covers least; it covers neither the place it shows nor another box.
func (s *sheet) roomFor(p sectionPlane, wide, tall float64, at [2]float64, busy [][2]float64, boxes [][4]float64) (box [4]float64, ok bool) {
	const (
		steps = 8
		apart = 10.0
	)
	best := math.Inf(1)
	left, top := p.x0+s.px(6), p.y0+s.px(6)
	freeX, freeY := p.x1-s.px(6)-wide-left, p.y1-s.px(6)-tall-top
	for i := range steps {
		for k := range steps {
			x, y := left+float64(freeX*float64(i)/(steps-1)), top+float64(freeY*float64(k)/(steps-1))
			near := s.px(apart)
			if at[0] > x-near && at[0] < x+wide+near && at[1] > y-near && at[1] < y+tall+near {
				continue
			}
			taken := false
			for _, b := range boxes {
				taken = taken || x < b[2]+near && x+wide > b[0]-near && y < b[3]+near && y+tall > b[1]-near
			}
			if taken {
				continue
			}
			cost := hypot(x+float64(wide/2)-at[0], y+float64(tall/2)-at[1]) / s.px(400)
			for _, q := range busy {
				if q[0] > x-s.px(3) && q[0] < x+wide+s.px(3) && q[1] > y-s.px(3) && q[1] < y+tall+s.px(3) {
					cost++
				}
			}
			if cost < best {
				best, box, ok = cost, [4]float64{x, y, x + wide, y + tall}, true
			}
		}
	}
	return box, ok
}

// inset draws what lies about a read-out in a box: both curves, and the circle that was read.
func (s *sheet) inset(p sectionPlane, cut *crosscut.Section, r *crosscut.Reading, box [4]float64, text string) {
	// The circle stands in the middle, also where its place was put beside the curve.
	middle := r.Centre
	if hypot(middle.H-r.At[0].H, middle.V-r.At[0].V) > insetShows*r.Scan.V {
		middle = r.At[0]
	}
	centre := p.at(middle)
	bottom := box[3] - s.px(insetWords)
	q := sectionPlane{x0: box[0], y0: box[1], x1: box[2], y1: bottom, h: middle.H, v: middle.V}
	q.scale = (bottom - box[1]) / (2 * insetShows * r.Scan.V)
	mark := max(s.px(5), insetShows*r.Scan.V*p.scale)
	s.outlined([4]float64{centre[0] - mark, centre[1] - mark, centre[0] + mark, centre[1] + mark}, s.th.Second)
	x, y := min(box[2], max(box[0], centre[0])), min(box[3], max(box[1], centre[1]))
	if l := hypot(x-centre[0], y-centre[1]); l > 2*mark {
		k := 1.4 * mark / l
		s.line(centre[0]+float64(k*(x-centre[0])), centre[1]+float64(k*(y-centre[1])), x, y, 0.8, s.th.Second)
	}
	s.rect(box[0], box[1], box[2], box[3], s.th.Paper)
	within := [4]float64{q.x0, q.y0, q.x1, q.y1}
	for _, c := range cut.Reference {
		s.clipped(q, c, 2.6, s.th.Limit, within)
	}
	s.strokeWithin(circleOf(q, r), 0.9, s.th.Second, within)
	for _, c := range cut.Scan {
		s.clipped(q, c, 1.3, s.th.Ink, within)
	}
	s.outlined(box, s.th.Second)
	larger := q.scale / p.scale
	words := number(larger, max(0, -decade(larger))) + " × larger"
	s.wash(box[2]-s.px(8)-s.width(small, regular, words), box[1]+s.px(2), box[2]-s.px(2), box[1]+s.px(17), s.th.Paper, 235)
	s.text(box[2]-s.px(5), box[1]+s.px(13), small, regular, s.th.Faint, rightOf, words)
	s.text(box[0]+s.px(6), box[3]-s.px(6), small, bold, s.th.Second, leftOf, text)
}

func (s *sheet) outlined(b [4]float64, c color.RGBA) {
	s.stroke([][2]float64{{b[0], b[1]}, {b[2], b[1]}, {b[2], b[3]}, {b[0], b[3]}, {b[0], b[1]}}, 1, c)
}

// circleOf is the circle that was read, as it lies in the plane's picture.
func circleOf(p sectionPlane, r *crosscut.Reading) [][2]float64 {
	at := p.at(r.Centre)
	line := circle(at[0], at[1], r.Scan.V*p.scale)
	return append(line, line[0])
}

// clipped draws as much of a curve as lies within a box.
func (s *sheet) clipped(p sectionPlane, c crosscut.Curve, width float64, col color.RGBA, box [4]float64) {
	line := make([][2]float64, 0, len(c.Points)+1)
	for _, q := range c.Points {
		line = append(line, p.at(q))
	}
	if c.Closed && len(line) > 1 {
		line = append(line, line[0])
	}
	s.strokeWithin(line, width, col, box)
}

// strokeWithin draws the parts of a line within a box.
func (s *sheet) strokeWithin(line [][2]float64, width float64, col color.RGBA, box [4]float64) {
	var run [][2]float64
	flush := func() {
		s.stroke(run, width, col)
		run = run[:0]
	}
	for i := 1; i < len(line); i++ {
		a, b, ok := clip(line[i-1], line[i], box)
		if !ok {
			flush()
			continue
		}
		if len(run) == 0 || run[len(run)-1] != a {
			flush()
			run = append(run, a)
		}
		run = append(run, b)
	}
	flush()
}

// clip returns the part of a line within a box (Liang and Barsky 1984).
func clip(a, b [2]float64, box [4]float64) (p, q [2]float64, ok bool) {
	t0, t1 := 0.0, 1.0
	for axis := range 2 {
		d := b[axis] - a[axis]
		for _, e := range [2][2]float64{{-d, a[axis] - box[axis]}, {d, box[axis+2] - a[axis]}} {
			switch {
			case e[0] == 0 && e[1] < 0:
				return p, q, false
			case e[0] < 0:
				t0 = max(t0, e[1]/e[0])
			case e[0] > 0:
				t1 = min(t1, e[1]/e[0])
			}
		}
	}
	if t0 > t1 {
		return p, q, false
	}
	p, q = a, b
	if t0 > 0 {
		p = [2]float64{a[0] + float64(t0*(b[0]-a[0])), a[1] + float64(t0*(b[1]-a[1]))}
	}
	if t1 < 1 {
		q = [2]float64{a[0] + float64(t1*(b[0]-a[0])), a[1] + float64(t1*(b[1]-a[1]))}
	}
	return p, q, true
}
