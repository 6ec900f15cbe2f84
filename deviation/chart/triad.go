package chart

import (
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

const (
	triadLong  = 16.0 // layout units, of an axis that lies in the picture
	triadLeast = 0.25 // of that: an axis that points at the viewer more has no direction to show
)

// triad draws which way the axes x, y and z lie in a view, about a place.
func (s *sheet) triad(cam shade.Camera, x, y float64) {
	w, h := int(s.w), int(s.h)
	if !(cam.Height > 0) || w == 0 || h == 0 {
		return
	}
	fromX, fromY, _ := cam.Project(geom.Vec{}, w, h)
	mm := s.h / cam.Height // pixels
	for k, axis := range [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		toX, toY, _ := cam.Project(axis, w, h)
		dx, dy := (toX-fromX)/mm, (toY-fromY)/mm
		if hypot(dx, dy) < triadLeast {
			continue
		}
		endX, endY := x+float64(dx*s.px(triadLong)), y+float64(dy*s.px(triadLong))
		s.stroke([][2]float64{{x, y}, {endX, endY}}, 1.4, s.th.Ink)
		l := hypot(dx, dy)
		s.text(endX+float64(dx/l*s.px(7)), endY+float64(dy/l*s.px(7))+s.px(4), small, bold, s.th.Ink, middleOf, "xyz"[k:k+1])
	}
	s.dot(x, y, 1.8, s.th.Ink)
}
