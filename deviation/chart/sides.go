package chart

import (
	"image"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// sideReach is how far, mm, from a station's point along its a the direction toward side B is taken in a picture.
const sideReach = 5.0

// sideMarks writes A and B beside a seam, at that of its stations that is seen and lies nearest its middle, and the
// numbers of the first and the last station seen, so that a picture tells which way the seam was walked.
func (s *sheet) sideMarks(r *gapflush.Result, at [][2]float64, seen []bool, project func(geom.Vec) [2]float64) {
	first, last, middle := -1, -1, -1
	for i := range at {
		if !seen[i] {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		if d, n := 2*i+1-len(at), 2*middle+1-len(at); r.Stations[i].A != (geom.Vec{}) && (middle < 0 || d*d < n*n) {
			middle = i
		}
	}
	if middle < 0 {
		return
	}
	st := &r.Stations[middle]
	beside := project(st.P.AddScaled(sideReach, st.A))
	dx, dy := beside[0]-at[middle][0], beside[1]-at[middle][1]
	long := hypot(dx, dy)
	if long == 0 {
		return
	}
	dx, dy = dx/long, dy/long
	const off, size = 15.0, 13.0
	for k, name := range [2]string{"A", "B"} {
		way := float64(2*k-1) * s.px(off)
		x, y := at[middle][0]+float64(way*dx), at[middle][1]+float64(way*dy)
		s.dot(x, y, 8, s.th.Paper)
		s.text(x-float64(s.width(size, bold, name)/2), y+s.px(size*0.36), size, bold, s.sideColor(k), leftOf, name)
	}
	if first == last {
		return
	}
	// Beyond the ends, on the side of the line away from the other end.
	for _, e := range [2][2]int{{first, last}, {last, first}} {
		p, q := at[e[0]], at[e[1]]
		long := hypot(p[0]-q[0], p[1]-q[1])
		if long < s.px(40) {
			return
		}
		x, y := p[0]+float64((p[0]-q[0])/long*s.px(20)), p[1]+float64((p[1]-q[1])/long*s.px(20))
		number := count(r.Stations[e[0]].Index)
		s.dot(x, y, 7, s.th.Paper)
		s.text(x-float64(s.width(small, bold, number)/2), y+s.px(small*0.36), small, bold, s.th.Ink, leftOf, number)
	}
}

// SeamMap composes an exported picture of a part with its seams and no colours of a deviation: of a scan that nothing is compared with.
func SeamMap(pic *shade.Picture, cam shade.Camera, info HeatInfo, th Theme, scale float64) *image.RGBA {
	s, left := heatFrame(pic, cam, &info, th, scale)
	if left > 0 {
		x, right, y := left+s.px(16), s.w-s.px(14), s.px(28)
		y += s.markLegend(x, y)
		s.hline(x, right, y, s.th.Grid)
		s.heatLines(x, right, y+s.px(20), info.Lines)
	}
	return s.img
}
