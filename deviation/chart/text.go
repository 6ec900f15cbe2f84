package chart

import (
	"image/color"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// weight picks one of the two faces used: the Go fonts (Bigelow & Holmes, BSD).
type weight int

const (
	regular weight = iota
	bold
)

var faces = [2]func() *sfnt.Font{
	sync.OnceValue(func() *sfnt.Font { return parsed(goregular.TTF) }),
	sync.OnceValue(func() *sfnt.Font { return parsed(gobold.TTF) }),
}

// parsed reads a font that is part of the program; it panics when that is broken.
func parsed(ttf []byte) *sfnt.Font {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("chart: a built-in font cannot be read: " + err.Error())
	}
	return f
}

// Where a text stands against its x.
type anchor int

const (
	leftOf anchor = iota
	middleOf
	rightOf
)

// pixelsPerEm rounds a size in layout units to 1/64 pixel.
func (s *sheet) pixelsPerEm(size float64) fixed.Int26_6 {
	return fixed.Int26_6(float64(s.px(size)*64) + 0.5)
}

// glyphs calls place for every glyph of a text with its pen position, and returns the text's width, in 1/64 pixel.
func (s *sheet) glyphs(size float64, w weight, text string, place func(g sfnt.GlyphIndex, x fixed.Int26_6)) fixed.Int26_6 {
	text = s.said(text)
	f, ppem := faces[w](), s.pixelsPerEm(size)
	x, before := fixed.Int26_6(0), sfnt.GlyphIndex(0)
	for _, r := range text {
		if r < ' ' || r == 0x7f {
			r = ' '
		}
		g, err := f.GlyphIndex(&s.buffer, r)
		if err != nil {
			continue
		}
		if kern, err := f.Kern(&s.buffer, before, g, ppem, font.HintingNone); err == nil && before != 0 {
			x += kern
		}
		if place != nil {
			place(g, x)
		}
		if advance, err := f.GlyphAdvance(&s.buffer, g, ppem, font.HintingNone); err == nil {
			x += advance
		}
		before = g
	}
	return x
}

// said is a text in the language it is written in.
func (s *sheet) said(text string) string {
	if s.th.Say == nil {
		return text
	}
	return s.th.Say(text)
}

// width returns a text's width in device pixels.
func (s *sheet) width(size float64, w weight, text string) float64 {
	return float64(float64(s.glyphs(size, w, text, nil)) / 64)
}

// text writes in one line; x, y is on the base line, in device pixels. It returns the right end.
func (s *sheet) text(x, y, size float64, w weight, c color.RGBA, a anchor, text string) float64 {
	if text == "" {
		return x
	}
	wide := s.width(size, w, text)
	switch a {
	case middleOf:
		x -= float64(wide / 2)
	case rightOf:
		x -= wide
	}
	o := newOutline()
	f, ppem := faces[w](), s.pixelsPerEm(size)
	ox, oy := toFine(x), toFine(float64(int(y+0.5)))
	s.glyphs(size, w, text, func(g sfnt.GlyphIndex, pen fixed.Int26_6) {
		segments, err := f.LoadGlyph(&s.buffer, g, ppem, nil)
		if err != nil {
			return
		}
		o.glyph(segments, func(p fixed.Point26_6) (int64, int64) {
			return ox + int64(pen+p.X)*(fine/64), oy + int64(p.Y)*(fine/64)
		})
	})
	o.fill(s.img, c, 255)
	s.texts = append(s.texts, written{text, x, y - s.px(0.74*size), x + wide, y + s.px(0.22*size)})
	return x + wide
}

// upText writes a text that reads upward; x is on its base line and y its
// middle, in device pixels.
func (s *sheet) upText(x, y, size float64, w weight, c color.RGBA, text string) {
	if text == "" {
		return
	}
	wide := s.width(size, w, text)
	y += float64(wide / 2)
	o := newOutline()
	f, ppem := faces[w](), s.pixelsPerEm(size)
	ox, oy := toFine(float64(int(x+0.5))), toFine(y)
	s.glyphs(size, w, text, func(g sfnt.GlyphIndex, pen fixed.Int26_6) {
		segments, err := f.LoadGlyph(&s.buffer, g, ppem, nil)
		if err != nil {
			return
		}
		o.glyph(segments, func(p fixed.Point26_6) (int64, int64) {
			return ox + int64(p.Y)*(fine/64), oy - int64(pen+p.X)*(fine/64)
		})
	})
	o.fill(s.img, c, 255)
	s.texts = append(s.texts, written{text, x - s.px(0.74*size), y - wide, x + s.px(0.22*size), y})
}

// written is where a text stands, so that tests can see that none covers another.
type written struct {
	text           string
	x0, y0, x1, y1 float64
}

// glyph adds a glyph's outline; to carries its points into the picture.
func (o *outline) glyph(segments sfnt.Segments, to func(fixed.Point26_6) (x, y int64)) {
	const steps = 6 // chords of a curve: under 1/20 pixel off at the sizes used
	for _, seg := range segments {
		x, y := to(seg.Args[0])
		switch seg.Op {
		case sfnt.SegmentOpMoveTo:
			o.moveFine(x, y)
		case sfnt.SegmentOpLineTo:
			o.lineFine(x, y)
		case sfnt.SegmentOpQuadTo:
			ex, ey := to(seg.Args[1])
			from := o.at
			for i := int64(1); i <= steps; i++ {
				p, q, r := (steps-i)*(steps-i), 2*i*(steps-i), i*i
				o.lineFine((p*from[0]+q*x+r*ex)/(steps*steps), (p*from[1]+q*y+r*ey)/(steps*steps))
			}
		case sfnt.SegmentOpCubeTo:
			bx, by := to(seg.Args[1])
			ex, ey := to(seg.Args[2])
			from := o.at
			for i := int64(1); i <= steps; i++ {
				j := steps - i
				p, q, r, t := j*j*j, 3*i*j*j, 3*i*i*j, i*i*i
				o.lineFine((p*from[0]+q*x+r*bx+t*ex)/(steps*steps*steps), (p*from[1]+q*y+r*by+t*ey)/(steps*steps*steps))
			}
		}
	}
	o.close()
}

// shorten cuts a text in its middle until it is at most wide device pixels.
func (s *sheet) shorten(size float64, w weight, text string, wide float64) string {
	if s.width(size, w, text) <= wide {
		return text
	}
	runes := []rune(s.said(text))
	for keep := len(runes) - 1; keep > 0; keep-- {
		head := (keep + 1) / 2
		short := strings.TrimRight(string(runes[:head]), " ") + "…" + strings.TrimLeft(string(runes[len(runes)-(keep-head):]), " ")
		if s.width(size, w, short) <= wide {
			return short
		}
	}
	return ""
}
