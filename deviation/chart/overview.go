package chart

import (
	"image"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
)

// SeamsInfo is what a picture of seams on a part says in words.
type SeamsInfo struct {
	Title, View string
	Seams       []*gapflush.Result
	OwnFrame    bool // the axes are the scan's own: nothing tells how they lie on a vehicle
}

// Seams composes a picture of pic's size: the part with its seams, their stations by number and verdict, and sides A
// and B, for a scan without colours of deviation. The words stand where those of [Heat] stand.
func Seams(pic *shade.Picture, cam shade.Camera, info SeamsInfo, th Theme, scale float64) *image.RGBA {
	heat := HeatInfo{Title: info.Title, View: info.View, Seams: info.Seams}
	s, seams, left := heatFrame(pic, cam, &heat, th, scale)
	if left <= 0 {
		return s.img
	}
	s.labelSeams(seams, true)
	x := left + s.px(16)
	c := &column{sheet: s, x: x, right: s.w - s.px(12), y: s.px(24)}
	s.text(x, c.y, normal, bold, th.Ink, leftOf, "seams and their sides")
	c.y += s.px(10)
	legend := s.markLegend(x, c.y+s.px(14), info.Seams)
	c.y += legend + s.px(14)
	for _, l := range heat.Lines {
		c.row(l.Label, l.Value, th.Ink)
	}
	for k, r := range info.Seams {
		lines := append([]string{r.Seam.Name}, sideRows(r)...)
		if c.y+s.px(20+float64(14*float64(len(lines)))) > c.bottom()-s.px(30) {
			c.words("and "+count(len(info.Seams)-k)+" more seams, without room here", false)
			break
		}
		c.y += s.px(8)
		for n, line := range lines {
			c.words(line, n == 0)
		}
	}
	if info.OwnFrame {
		c.y += s.px(8)
		c.words("x, y and z are the scan's own axes: nothing tells how they lie on the vehicle.", false)
	}
	return s.img
}

// words writes a text over as many lines as it takes; what does not fit is left out.
func (c *column) words(text string, strong bool) {
	weight, ink := regular, c.th.Faint
	if strong {
		weight, ink = bold, c.th.Ink
	}
	for _, line := range c.broken(small, text, c.right-c.x) {
		if c.y > c.bottom() {
			return
		}
		c.text(c.x, c.y, small, weight, ink, leftOf, line)
		c.y += c.px(14)
	}
}
