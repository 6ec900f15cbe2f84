package chart

import (
	"math"

	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// CallOut is a place on the part with a label beside the part and a line from one to the other.
type CallOut struct {
	At      geom.Vec // mm
	Label   string   // a number, or a short name
	Text    string   // "−1.24 mm"
	Verdict verdict.Verdict
}

// The sizes of labels in layout units.
const (
	labelHeight, labelPad, labelGap = 19.0, 6.0, 7.0
	longestLabel                    = 150.0
)

// labelSlack, in mm, is how far a place may lie behind what is drawn there and
// still be called out: places lie on the scan's surface, which is rough and drawn coarsely.
const labelSlack = 3

// slot is where a label may stand, in pixels.
type slot struct{ x0, y0, x1, y1 float64 }

func (b slot) overlaps(c slot) bool { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }

// nearest is the point of the slot where a line from p ends: the middle of the side that is nearest to it.
func (b slot) nearest(p [2]float64) [2]float64 {
	best, least := p, math.Inf(1)
	mx, my := float64((b.x0+b.x1)/2), float64((b.y0+b.y1)/2)
	for _, q := range [][2]float64{{b.x0, my}, {b.x1, my}, {mx, b.y0}, {mx, b.y1}} {
		if d := hypot(p[0]-q[0], p[1]-q[1]); d < least {
			best, least = q, d
		}
	}
	return best
}

// callOuts draws the call-outs that can be seen, their labels on the picture's
// empty ground inside room, and returns how many were drawn. Labels stand apart; lines
// cross neither labels nor one another where that can be had. Where
// no empty ground is left a place gets its label alone, at the place.
func (s *sheet) callOuts(pic *shade.Picture, cam shade.Camera, list []CallOut, room slot) int {
	var seen []CallOut
	var at [][2]float64
	for _, c := range list {
		if !(cam.Height > 0) || !c.At.IsFinite() || pic.Hidden(c.At, labelSlack) {
			continue
		}
		x, y, _ := cam.Project(c.At, int(s.w), int(s.h))
		if x < room.x0 || x > room.x1 || y < room.y0 || y > room.y1 {
			continue
		}
		seen, at = append(seen, c), append(at, [2]float64{x, y})
	}
	if len(seen) == 0 {
		return 0
	}
	wide := 0.0
	for i := range seen {
		seen[i].Label = s.shorten(small, bold, seen[i].Label, s.px(longestLabel))
		wide = max(wide, s.labelWidth(seen[i]))
	}
	slots := s.emptySlots(pic, room, wide, s.px(labelHeight))
	where := placeLabels(at, slots)
	for i := range seen {
		if where[i] >= 0 {
			end := slots[where[i]].nearest(at[i])
			s.line(at[i][0], at[i][1], end[0], end[1], 3, s.th.Paper)
		}
	}
	for i, c := range seen {
		if where[i] >= 0 {
			end := slots[where[i]].nearest(at[i])
			s.line(at[i][0], at[i][1], end[0], end[1], 1.1, s.th.Ink)
			s.takeLine(at[i], end)
		}
		s.take(at[i], 4)
		s.dot(at[i][0], at[i][1], 3.4, s.th.Paper)
		s.dot(at[i][0], at[i][1], 2.2, s.th.verdictColor(c.Verdict))
	}
	for i, c := range seen {
		if where[i] >= 0 {
			b := s.within(slots[where[i]], s.labelWidth(c), slots[where[i]].nearest(at[i]))
			s.tag(c, b)
			s.taken = append(s.taken, b)
			continue
		}
		s.taken = append(s.taken, slot{at[i][0], at[i][1] - s.px(16), at[i][0] + s.px(5) + s.width(small, bold, c.Label), at[i][1]})
		s.text(at[i][0]+s.px(5), at[i][1]-s.px(4), small, bold, s.th.Ink, leftOf, c.Label)
	}
	return len(seen)
}

// take keeps labels of seams off a place, and takeLine off a line between two, by so many layout units.
func (s *sheet) take(q [2]float64, room float64) {
	r := s.px(room)
	s.taken = append(s.taken, slot{q[0] - r, q[1] - r, q[0] + r, q[1] + r})
}

func (s *sheet) takeLine(a, b [2]float64) {
	n := 1 + int(hypot(b[0]-a[0], b[1]-a[1])/s.px(4))
	for i := range n + 1 {
		t := float64(i) / float64(n)
		s.take([2]float64{a[0] + float64(t*(b[0]-a[0])), a[1] + float64(t*(b[1]-a[1]))}, 2)
	}
}

func (s *sheet) labelWidth(c CallOut) float64 {
	return s.width(small, bold, c.Label) + s.width(small, regular, c.Text) + s.px(3*labelPad) + s.px(4)
}

// within returns the part of a slot that a label of its own width takes: at the
// side where its line ends, in the middle where that ends above or below.
func (s *sheet) within(b slot, wide float64, end [2]float64) slot {
	spare := math.Floor(max(0, b.x1-b.x0-wide))
	switch end[0] {
	case b.x0:
		b.x1 -= spare
	case b.x1:
		b.x0 += spare
	default:
		b.x0 += math.Floor(spare / 2)
		b.x1 -= spare - math.Floor(spare/2)
	}
	return b
}

// tag draws a label into its place.
func (s *sheet) tag(c CallOut, b slot) {
	head := s.width(small, bold, c.Label) + s.px(labelPad)
	s.rect(b.x0, b.y0, b.x1, b.y1, s.th.Ink)
	hair := s.hair()
	s.rect(b.x0+hair, b.y0+hair, b.x1-hair, b.y1-hair, s.th.Paper)
	s.rect(b.x0+hair, b.y0+hair, b.x0+head+s.px(labelPad), b.y1-hair, s.th.verdictColor(c.Verdict))
	base := b.y1 - s.px(5.5)
	s.text(b.x0+s.px(labelPad), base, small, bold, s.th.Paper, leftOf, c.Label)
	s.text(b.x1-s.px(labelPad), base, small, regular, s.th.Ink, rightOf, c.Text)
}

// emptySlots returns the places for labels where nothing of the part is drawn, row by row.
func (s *sheet) emptySlots(pic *shade.Picture, room slot, wide, high float64) []slot {
	gap := s.px(labelGap)
	img := pic.Image
	ground := img.RGBAAt(img.Rect.Min.X, img.Rect.Max.Y-1)
	empty := func(b slot) bool {
		step := max(1, int(s.px(2)))
		for y := int(b.y0 - float64(gap/2)); y < int(b.y1+float64(gap/2)); y += step {
			for x := int(b.x0 - float64(gap/2)); x < int(b.x1+float64(gap/2)); x += step {
				if x >= 0 && y >= 0 && x < img.Rect.Max.X && y < img.Rect.Max.Y && img.RGBAAt(x, y) != ground {
					return false
				}
			}
		}
		return true
	}
	var out []slot
	columns := int((room.x1 - room.x0 + gap) / (wide + gap))
	rows := int((room.y1 - room.y0 + gap) / (high + gap))
	if columns <= 0 || rows <= 0 {
		return nil
	}
	// Half steps between columns and rows give labels more ways to stand near their places.
	spare := (room.x1 - room.x0 - float64(float64(columns)*(wide+gap)) + gap) / max(1, float64(columns-1))
	across := wide + gap + max(0, spare)
	for row := range 2*rows - 1 {
		for col := range 2*columns - 1 {
			x := math.Floor(room.x0 + float64(float64(col)/2*across))
			y := math.Floor(room.y0 + float64(float64(row)/2*(high+gap)))
			b := slot{x, y, x + math.Floor(wide), y + math.Floor(high)}
			if b.x1 <= room.x1 && b.y1 <= room.y1 && empty(b) {
				out = append(out, b)
			}
		}
	}
	return out
}

// What a crossing or a covered label costs beside the lines' lengths in pixels.
const (
	crossingCost = 1e4
	coveredCost  = 1e5
	// lineRoom is how near, in pixels, a line may pass another label and still be seen apart from its frame.
	lineRoom = 6
)

// placeLabels gives every place a slot, -1 where none is left: each in turn the
// nearest free one, then single moves and swaps of two as long as they lower the cost. That
// the sum of lengths falls with every swap leaves no two lines crossed that a swap could uncross.
func placeLabels(at [][2]float64, slots []slot) []int {
	where := make([]int, len(at))
	for i := range at {
		where[i] = -1
		least := math.Inf(1)
		for k := range slots {
			if taken(where[:i], slots, k, -1) {
				continue
			}
			end := slots[k].nearest(at[i])
			if d := hypot(end[0]-at[i][0], end[1]-at[i][1]); d < least {
				where[i], least = k, d
			}
		}
	}
	const rounds = 20 // each lowers the cost; ten settle what a picture holds
	for range rounds {
		better := false
		for i := range at {
			better = moveLabel(at, slots, where, i) || better
			for j := range i {
				if where[i] < 0 || where[j] < 0 {
					continue
				}
				before := labelsCost(at, slots, where)
				where[i], where[j] = where[j], where[i]
				if labelsCost(at, slots, where) < before {
					better = true
				} else {
					where[i], where[j] = where[j], where[i]
				}
			}
		}
		if !better {
			break
		}
	}
	return where
}

// moveLabel moves one label to the free slot that lowers the cost most.
func moveLabel(at [][2]float64, slots []slot, where []int, i int) bool {
	old, best := where[i], where[i]
	if old < 0 {
		return false
	}
	least := labelsCost(at, slots, where)
	for k := range slots {
		if taken(where, slots, k, i) {
			continue
		}
		where[i] = k
		if c := labelsCost(at, slots, where); c < least {
			best, least = k, c
		}
	}
	where[i] = best
	return best != old
}

// taken reports whether a slot is used, or overlaps one that is, by another than own.
func taken(where []int, slots []slot, k, own int) bool {
	for i, w := range where {
		if i != own && w >= 0 && slots[w].overlaps(slots[k]) {
			return true
		}
	}
	return false
}

func labelsCost(at [][2]float64, slots []slot, where []int) float64 {
	cost := 0.0
	for i, w := range where {
		if w < 0 {
			continue
		}
		p, end := at[i], slots[w].nearest(at[i])
		cost += hypot(end[0]-p[0], end[1]-p[1])
		for j, v := range where {
			if j == i || v < 0 {
				continue
			}
			if j < i && crosses(p, end, at[j], slots[v].nearest(at[j])) {
				cost += crossingCost
			}
			b := slots[v]
			if meets(p, end, b) {
				cost += coveredCost
			}
		}
	}
	return cost
}

// crosses reports whether two segments cross.
func crosses(a, b, c, d [2]float64) bool {
	side := func(p, q, r [2]float64) float64 {
		return float64((q[0]-p[0])*(r[1]-p[1])) - float64((q[1]-p[1])*(r[0]-p[0]))
	}
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// meets reports whether a segment comes nearer to a slot than lineRoom.
func meets(p, q [2]float64, b slot) bool {
	b = slot{b.x0 - lineRoom, b.y0 - lineRoom, b.x1 + lineRoom, b.y1 + lineRoom}
	inside := func(r [2]float64) bool { return r[0] > b.x0 && r[0] < b.x1 && r[1] > b.y0 && r[1] < b.y1 }
	return inside(p) || inside(q) ||
		crosses(p, q, [2]float64{b.x0, b.y0}, [2]float64{b.x1, b.y1}) || crosses(p, q, [2]float64{b.x0, b.y1}, [2]float64{b.x1, b.y0})
}
