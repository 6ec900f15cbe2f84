package chart

import (
	"cmp"
	"image"
	"math"
	"slices"
	"strings"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// drawnSeam is a seam as it lies in a picture of the part.
type drawnSeam struct {
	r    *gapflush.Result
	at   [][2]float64 // pixels, of its stations
	seen []bool
	list []int // indices of the stations that are seen
	// project carries a place of the part into the picture.
	project func(geom.Vec) [2]float64
}

// beside returns the place so many layout units from a station toward side B (negative: A).
func (d *drawnSeam) beside(s *sheet, i int, far float64) (q [2]float64, ok bool) {
	st := &d.r.Stations[i]
	b := d.project(st.P.Add(st.A))
	dx, dy := b[0]-d.at[i][0], b[1]-d.at[i][1]
	l := hypot(dx, dy)
	if !(l > 0) {
		return q, false
	}
	return [2]float64{d.at[i][0] + float64(dx/l*s.px(far)), d.at[i][1] + float64(dy/l*s.px(far))}, true
}

// Layout units about a seam's labels.
const (
	letterAway, letterSize = 17.0, 8.0 // of side letters, from the seam; their rings
	numberAway, numberRoom = 13.0, 22.0
	nameAway, longestName  = 12.0, 150.0
	markRoom               = 3.0 // of labels from the middle of a station's mark
)

// numbersAway are the places beside a station that its number is tried at, those near it first.
var numbersAway = [...]float64{-numberAway, numberAway, -18, 18, -24, 24, -30, 30}

// labelSeams writes what tells seams apart over a picture, where it covers no other label, no station and nothing of
// s.taken: the letters of both sides, once for the stretches of one seam, and, for a picture that stands by itself, the seams'
// names and numbers of stations: the first, the last, and as many between as there is room for. What has no room is left out.
func (s *sheet) labelSeams(list []drawnSeam, numbers bool) {
	list = s.inPicture(list)
	var marks [][2]float64
	for k := range list {
		for _, i := range list[k].list {
			marks = append(marks, list[k].at[i])
		}
	}
	lettered := map[string]bool{}
	for _, k := range longestFirst(list) {
		d := &list[k]
		if whole := d.r.Seam.Whole; whole == "" || !lettered[whole] {
			lettered[whole] = s.sideLetters(d, marks)
		}
	}
	if !numbers {
		return
	}
	// Numbers first: each has its place beside its station, and a name can stand anywhere along its seam.
	for k := range list {
		s.stationNumbers(&list[k], marks)
	}
	named := map[string]bool{}
	for k := range list {
		s.seamName(&list[k], named, marks)
	}
}

// inPicture leaves of what is seen of seams the stations that lie in the picture: a label is beside its own seam, or nowhere.
func (s *sheet) inPicture(list []drawnSeam) []drawnSeam {
	list = slices.Clone(list)
	for k := range list {
		d := &list[k]
		d.list = slices.DeleteFunc(slices.Clone(d.list), func(i int) bool {
			q := d.at[i]
			return q[0] < 0 || q[1] < 0 || q[0] > s.w || q[1] > s.h
		})
	}
	return list
}

// keepOff has labels stand nowhere in boxes, in pixels.
func (s *sheet) keepOff(covered []image.Rectangle) {
	for _, c := range covered {
		s.taken = append(s.taken, slot{float64(c.Min.X), float64(c.Min.Y), float64(c.Max.X), float64(c.Max.Y)})
	}
}

// longestFirst orders seams by how many of their stations are seen, equal ones as they are.
func longestFirst(list []drawnSeam) []int {
	order := make([]int, len(list))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(len(list[b].list), len(list[a].list)) })
	return order
}

// free reports whether a label may stand in a box, in pixels.
func (s *sheet) free(b slot, marks [][2]float64) bool {
	if b.x0 < 0 || b.y0 < 0 || b.x1 > s.w || b.y1 > s.h {
		return false
	}
	for _, t := range s.taken {
		if b.overlaps(t) {
			return false
		}
	}
	room := s.px(markRoom)
	for _, q := range marks {
		if q[0] > b.x0-room && q[0] < b.x1+room && q[1] > b.y0-room && q[1] < b.y1+room {
			return false
		}
	}
	return true
}

// outward returns indices of a list from its middle, or another place in it, on to both ends, at most some forty of them.
func outward(list []int, from int) (order []int) {
	const most = 40
	for far := 0; far < len(list); far += 1 + len(list)/most {
		if from+far < len(list) {
			order = append(order, list[from+far])
		}
		if far > 0 && from-far >= 0 {
			order = append(order, list[from-far])
		}
	}
	return order
}

// sideLetters marks sides A and B beside the middle of what is seen of a seam, or as near to it as there is room for both.
func (s *sheet) sideLetters(d *drawnSeam, marks [][2]float64) bool {
	box := func(q [2]float64) slot {
		r := s.px(letterSize + 1)
		return slot{q[0] - r, q[1] - r, q[0] + r, q[1] + r}
	}
	for _, i := range outward(d.list, len(d.list)/2) {
		a, okA := d.beside(s, i, -letterAway)
		b, okB := d.beside(s, i, letterAway)
		if !okA || !okB || !s.free(box(a), marks) || !s.free(box(b), marks) {
			continue
		}
		for k, q := range [2][2]float64{a, b} {
			s.dot(q[0], q[1], letterSize, s.th.Paper)
			s.ring(q[0], q[1], letterSize, 1.2, s.sideColor(k))
			s.text(q[0], q[1]+s.px(4), small, bold, s.sideColor(k), middleOf, [2]string{"A", "B"}[k])
			s.taken = append(s.taken, box(q))
		}
		return true
	}
	return false
}

// seamName writes a seam's name beside it on side B, or on A where there is more room, about three quarters of the way along what is
// seen of it. Of the stretches of one seam that are seen the first has the whole name, the others where they begin and end.
func (s *sheet) seamName(d *drawnSeam, named map[string]bool, marks [][2]float64) {
	name := d.r.Seam.Name
	if named[d.r.Seam.Whole] && d.r.Seam.Whole != "" {
		name = strings.TrimPrefix(name, d.r.Seam.Whole+", ")
	}
	if name == "" || len(d.list) == 0 {
		return
	}
	text := s.shorten(small, bold, name, s.px(longestName))
	wide, tall := s.width(small, bold, text), s.px(7)
	for _, away := range [...]float64{nameAway, -nameAway, nameAway + 18, -nameAway - 18} {
		for _, i := range outward(d.list, len(d.list)*3/4) {
			q, ok := d.beside(s, i, away)
			if !ok {
				continue
			}
			left := q[0]
			switch dx := q[0] - d.at[i][0]; {
			case dx < -s.px(nameAway/2):
				left = q[0] - wide
			case dx < s.px(nameAway/2):
				left = q[0] - float64(wide/2)
			}
			left = min(max(left, s.px(4)), max(s.w-s.px(heatSide+4)-wide, s.px(4)))
			b := slot{left - s.px(2), q[1] - tall, left + wide + s.px(2), q[1] + tall}
			if !s.free(b, marks) {
				continue
			}
			s.wash(b.x0, b.y0, b.x1, b.y1, s.th.Paper, 200)
			s.text(left, q[1]+s.px(4), small, bold, s.th.Ink, leftOf, text)
			s.taken = append(s.taken, b)
			named[d.r.Seam.Whole] = true
			return
		}
	}
}

// stationNumbers writes numbers of stations on side A, or on B where there is room.
func (s *sheet) stationNumbers(d *drawnSeam, marks [][2]float64) {
	var written []int
	write := func(i int) {
		for _, j := range written {
			if hypot(d.at[i][0]-d.at[j][0], d.at[i][1]-d.at[j][1]) < s.px(numberRoom) {
				return
			}
		}
		text := count(d.r.Stations[i].Index)
		half := float64(s.width(small, regular, text) / 2)
		for _, away := range numbersAway {
			q, ok := d.beside(s, i, away)
			b := slot{q[0] - half - s.px(2), q[1] - s.px(6), q[0] + half + s.px(2), q[1] + s.px(6)}
			if !ok || !s.free(b, marks) {
				continue
			}
			if math.Abs(away) > numberAway { // farther off a line leads to it
				from, _ := d.beside(s, i, math.Copysign(markRoom+2, away))
				s.line(from[0], from[1], q[0], q[1], 1, s.th.Faint)
			}
			s.wash(b.x0, b.y0, b.x1, b.y1, s.th.Paper, 200)
			s.text(q[0], q[1]+s.px(4), small, regular, s.th.Ink, middleOf, text)
			s.taken = append(s.taken, b)
			written = append(written, i)
			return
		}
	}
	if len(d.list) == 0 {
		return
	}
	write(d.list[0])
	write(d.list[len(d.list)-1])
	for _, every := range [2]int{10, 5} {
		for _, i := range d.list {
			if d.r.Stations[i].Index%every == 0 {
				write(i)
			}
		}
	}
}
