package chart

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font/sfnt"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// sheet is an image being drawn on. Coordinates are device pixels; sizes of
// text, widths of lines and marks are layout units and multiplied by k.
type sheet struct {
	img    *image.RGBA
	th     Theme
	k      float64
	w, h   float64
	texts  []written
	taken  []slot // of a picture of the part: what labels of seams may not cover
	buffer sfnt.Buffer
}

// px returns layout units in pixels; no sum fuses with it.
func (s *sheet) px(units float64) float64 { return float64(units * s.k) }

// newSheet returns an empty sheet of paper.
func newSheet(w, h int, th Theme, scale float64) *sheet {
	s := overSheet(image.NewRGBA(image.Rect(0, 0, max(w, 0), max(h, 0))), th, scale)
	s.rect(0, 0, s.w, s.h, th.Paper)
	return s
}

// overSheet returns a sheet that draws over an image.
func overSheet(img *image.RGBA, th Theme, scale float64) *sheet {
	if !(scale > 0) || math.IsInf(scale, 0) {
		scale = 1
	}
	return &sheet{img: img, th: th, k: scale, w: float64(img.Rect.Dx()), h: float64(img.Rect.Dy())}
}

// rect fills whole pixels.
func (s *sheet) rect(x0, y0, x1, y1 float64, c color.RGBA) { s.wash(x0, y0, x1, y1, c, 255) }

// wash lays a colour over whole pixels with an opacity of 0 to 255.
func (s *sheet) wash(x0, y0, x1, y1 float64, c color.RGBA, opacity uint32) {
	whole := func(v, hi float64) int { return int(max(0, min(hi, math.Floor(v+0.5)))) }
	for y := whole(y0, s.h); y < whole(y1, s.h); y++ {
		for x := whole(x0, s.w); x < whole(x1, s.w); x++ {
			at := y*s.img.Stride + 4*x
			blend(s.img.Pix[at:at+4:at+4], c, opacity)
		}
	}
}

// hair is the width of a thin line in whole device pixels.
func (s *sheet) hair() float64 { return max(1, math.Floor(s.k+0.25)) }

func (s *sheet) hline(x0, x1, y float64, c color.RGBA) {
	y = math.Floor(y)
	s.rect(x0, y, x1, y+s.hair(), c)
}

func (s *sheet) vline(x, y0, y1 float64, c color.RGBA) {
	x = math.Floor(x)
	s.rect(x, y0, x+s.hair(), y1, c)
}

// hypot is the length of x, y in pixels.
func hypot(x, y float64) float64 { return math.Sqrt(float64(x*x) + float64(y*y)) }

// stroke draws a polyline of a width in layout units, with round joints.
func (s *sheet) stroke(points [][2]float64, width float64, c color.RGBA) {
	o := newOutline()
	half := s.px(width) / 2
	for i := 1; i < len(points); i++ {
		p, q := points[i-1], points[i]
		dx, dy := q[0]-p[0], q[1]-p[1]
		l := hypot(dx, dy)
		if !(l > 0) || math.IsInf(l, 0) {
			continue
		}
		nx, ny := float64(-dy/l*half), float64(dx/l*half)
		o.polygon([][2]float64{{p[0] + nx, p[1] + ny}, {q[0] + nx, q[1] + ny}, {q[0] - nx, q[1] - ny}, {p[0] - nx, p[1] - ny}})
		if i > 1 && half > 0.6 {
			o.polygon(circle(p[0], p[1], half))
		}
	}
	o.fill(s.img, c, 255)
}

func (s *sheet) line(x0, y0, x1, y1, width float64, c color.RGBA) {
	s.stroke([][2]float64{{x0, y0}, {x1, y1}}, width, c)
}

// area fills a polygon.
func (s *sheet) area(points [][2]float64, c color.RGBA, opacity uint32) {
	o := newOutline()
	o.polygon(points)
	o.fill(s.img, c, opacity)
}

// circle returns a circle as a polygon under 1/20 pixel off.
func circle(x, y, r float64) [][2]float64 {
	n := max(8, int(math.Ceil(10*math.Sqrt(max(r, 0))))) // a chord is r(1-cos(pi/n)) off
	points := make([][2]float64, n)
	for i := range points {
		sin, cos := geom.Sincos(2 * math.Pi * float64(i) / float64(n))
		points[i] = [2]float64{x + float64(r*cos), y + float64(r*sin)}
	}
	return points
}

func (s *sheet) dot(x, y, r float64, c color.RGBA) { s.area(circle(x, y, s.px(r)), c, 255) }

// ring draws a hollow mark.
func (s *sheet) ring(x, y, r, width float64, c color.RGBA) {
	points := circle(x, y, s.px(r))
	s.stroke(append(points, points[0], points[1]), width, c)
}

// arrow draws the head of an arrow whose tip is at x, y, pointing along dx, dy (unit).
func (s *sheet) arrow(x, y, dx, dy float64, c color.RGBA) {
	l, b := s.px(6.5), s.px(2.1)
	s.area([][2]float64{{x, y}, {x - float64(dx*l) - float64(dy*b), y - float64(dy*l) + float64(dx*b)}, {x - float64(dx*l) + float64(dy*b), y - float64(dy*l) - float64(dx*b)}}, c, 255)
}

// verdictColor returns the colour that goes with a verdict's shape.
func (th Theme) verdictColor(v verdict.Verdict) color.RGBA {
	switch v {
	case verdict.Conforms:
		return th.Good
	case verdict.DoesNotConform:
		return th.Bad
	case verdict.Undecided:
		return th.Open
	}
	return th.Line
}

// mark draws a verdict's shape about x, y: tick, cross, question mark, or a
// plain dot where nothing was judged. r is half its size in layout units.
func (s *sheet) mark(x, y, r float64, v verdict.Verdict) {
	c := s.th.verdictColor(v)
	d := s.px(r)
	at := func(right, down float64) [2]float64 { return [2]float64{x + float64(right*d), y + float64(down*d)} }
	halo := func(points [][2]float64, width float64) {
		s.stroke(points, width+2, s.th.Paper)
		s.stroke(points, width, c)
	}
	switch v {
	case verdict.Conforms:
		halo([][2]float64{at(-1, 0.05), at(-0.25, 0.75), at(1, -0.8)}, 1.7)
	case verdict.DoesNotConform:
		a, b := [][2]float64{at(-0.8, -0.8), at(0.8, 0.8)}, [][2]float64{at(-0.8, 0.8), at(0.8, -0.8)}
		s.stroke(a, 3.9, s.th.Paper)
		s.stroke(b, 3.9, s.th.Paper)
		s.stroke(a, 1.9, c)
		s.stroke(b, 1.9, c)
	case verdict.Undecided:
		s.area(circle(x, y, 1.25*d), s.th.Paper, 255)
		texts := len(s.texts)
		s.text(x, y+float64(0.95*d), 2.7*r, bold, c, middleOf, "?")
		s.texts = s.texts[:texts] // a mark may stand over a line; it is no text to be read
	default:
		s.dot(x, y, float64(0.75*r)+0.8, s.th.Paper)
		s.dot(x, y, 0.75*r, c)
	}
}

// hollow draws the mark of a station without a number.
func (s *sheet) hollow(x, y, r float64) {
	s.dot(x, y, r+1, s.th.Paper)
	s.ring(x, y, 0.8*r, 1.3, s.th.Faint)
}
