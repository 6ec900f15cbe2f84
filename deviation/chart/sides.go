package chart

import (
	"strings"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

const (
	sidesRow  = 15  // layout units: the row that says where the sides lie
	sidesFrom = 400 // the height of a seam chart, layout units, from which it has that row
)

// axisSign writes a direction along an axis with a minus of the width of a plus.
func axisSign(t gapflush.Toward) string { return strings.ReplaceAll(t.String(), "-", "−") }

// sidesLine says which side is which along a whole seam: "side A, wing: toward −x   side B, door: toward +x".
func sidesLine(r *gapflush.Result) string { return strings.Join(sideRows(r), "     ") }

// sideRows says the same, a text for each side.
func sideRows(r *gapflush.Result) []string {
	runs := r.Sides()
	panels, named := r.Seam.Panels()
	var parts []string
	for k, side := range [2]string{"side A", "side B"} {
		if named {
			side += ", " + panels[k]
		}
		var ways []string
		for _, run := range runs {
			way := axisSign([2]gapflush.Toward{run.A, run.B}[k])
			if len(runs) > 1 {
				way += " (stations " + count(r.Stations[run.First].Index) + " to " + count(r.Stations[run.Last].Index) + ")"
			}
			ways = append(ways, way)
		}
		if len(ways) > 0 {
			parts = append(parts, side+": toward "+strings.Join(ways, ", "))
		}
	}
	return parts
}

// stationWay says which way side k lies at a station, "" where it is not known.
func stationWay(st *gapflush.Station, k int) string {
	d := st.A
	if k == int(gapflush.A) {
		d = d.Scale(-1)
	}
	t, ok := gapflush.TowardOf(d)
	if !ok {
		return ""
	}
	return ", toward " + axisSign(t)
}

// sideLetters marks sides A and B beside the middle of what is seen of a seam, and, for a picture that stands by
// itself, numbers its stations: on side A, the first, the last, and as many between as there is room for.
func (s *sheet) sideLetters(r *gapflush.Result, at [][2]float64, seen []bool, project func(geom.Vec) [2]float64, numbers bool) {
	var list []int
	for i := range seen {
		if seen[i] {
			list = append(list, i)
		}
	}
	if len(list) == 0 {
		return
	}
	// beside returns the place so many layout units from a station toward side B (negative: A).
	beside := func(i int, far float64) (x, y float64, ok bool) {
		st := &r.Stations[i]
		q := project(st.P.Add(st.A))
		dx, dy := q[0]-at[i][0], q[1]-at[i][1]
		l := hypot(dx, dy)
		if !(l > 0) {
			return 0, 0, false
		}
		return at[i][0] + float64(dx/l*s.px(far)), at[i][1] + float64(dy/l*s.px(far)), true
	}
	const letterAway, numberAway, letterRoom, numberRoom = 17.0, 13.0, 22.0, 30.0
	middle := list[len(list)/2]
	for k, letter := range [2]string{"A", "B"} {
		if x, y, ok := beside(middle, float64(letterAway*float64(2*k-1))); ok {
			s.dot(x, y, 8, s.th.Paper)
			s.ring(x, y, 8, 1.2, s.sideColor(k))
			s.text(x, y+s.px(4), small, bold, s.sideColor(k), middleOf, letter)
		}
	}
	if !numbers {
		return
	}
	far := func(i, j int, room float64) bool {
		return hypot(at[i][0]-at[j][0], at[i][1]-at[j][1]) >= s.px(room)
	}
	var written []int
	write := func(i int) {
		for _, j := range written {
			if !far(i, j, numberRoom) {
				return
			}
		}
		if len(list) > 1 && !far(i, middle, letterRoom) {
			return
		}
		x, y, ok := beside(i, -numberAway)
		if !ok {
			return
		}
		text := count(r.Stations[i].Index)
		half := float64(s.width(small, regular, text) / 2)
		s.wash(x-half-s.px(2), y-s.px(6), x+half+s.px(2), y+s.px(6), s.th.Paper, 200)
		s.text(x, y+s.px(4), small, regular, s.th.Ink, middleOf, text)
		written = append(written, i)
	}
	s.seamName(r.Seam.Name, list, at, beside)
	write(list[0])
	write(list[len(list)-1])
	for _, i := range list {
		if r.Stations[i].Index%5 == 0 {
			write(i)
		}
	}
}

// seamName writes a seam's name beside it on side B, three quarters of the way along what is seen of it.
func (s *sheet) seamName(name string, list []int, at [][2]float64, beside func(i int, far float64) (x, y float64, ok bool)) {
	const away, longest = 12.0, 150.0
	i := list[len(list)*3/4]
	x, y, ok := beside(i, away)
	if !ok || name == "" {
		return
	}
	text := s.shorten(small, bold, name, s.px(longest))
	wide := s.width(small, bold, text)
	left := x
	switch dx := x - at[i][0]; {
	case dx < -s.px(away/2):
		left = x - wide
	case dx < s.px(away/2):
		left = x - float64(wide/2)
	}
	left = min(max(left, s.px(4)), max(s.w-s.px(heatSide+4)-wide, s.px(4)))
	s.wash(left-s.px(2), y-s.px(7), left+wide+s.px(2), y+s.px(7), s.th.Paper, 200)
	s.text(left, y+s.px(4), small, bold, s.th.Ink, leftOf, text)
}
