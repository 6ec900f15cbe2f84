package chart

import "image/color"

// Theme holds the colours of a drawing. All are opaque.
type Theme struct {
	Paper, Ink, Faint color.RGBA // ground, text and outlines, secondary text
	Grid, Band, Limit color.RGBA // grid lines, tolerance band, its limits
	Line, Ribbon      color.RGBA // a measured line and its uncertainty
	Second            color.RGBA // the second quantity or panel, told apart without hue
	Good, Bad, Open   color.RGBA // verdicts: conforms, does not conform, undecided
	Accent            color.RGBA // the marker of what is selected
	Panel             color.RGBA // the ground of a legend over a picture

	// Say puts what is written into the language of who looks on; nil: English, as in every file. It may be called from
	// several goroutines.
	Say func(string) string
}

func rgb(hex uint32) color.RGBA {
	return color.RGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 255}
}

// Light returns the theme of paper and of a light window. The verdict colours
// are told apart with every common colour-vision deficiency: blue-green, vermilion
// and amber after Okabe & Ito (2008), darkened for contrast on white.
func Light() Theme {
	return Theme{
		Paper: rgb(0xffffff), Ink: rgb(0x1c2126), Faint: rgb(0x5d6670),
		Grid: rgb(0xe3e7eb), Band: rgb(0xeaf3ee), Limit: rgb(0x7fa896),
		Line: rgb(0x1f4e79), Ribbon: rgb(0xc3d5e6), Second: rgb(0x8a5a00),
		Good: rgb(0x00785a), Bad: rgb(0xc23b00), Open: rgb(0x9a6b00),
		Accent: rgb(0x6a3d9a), Panel: rgb(0xf6f8f9),
	}
}

// Dark returns the theme of a dark window.
func Dark() Theme {
	return Theme{
		Paper: rgb(0x1b1f24), Ink: rgb(0xe8ebee), Faint: rgb(0x9aa4ae),
		Grid: rgb(0x30363d), Band: rgb(0x22322c), Limit: rgb(0x5f8f7b),
		Line: rgb(0x7db4e6), Ribbon: rgb(0x2e4a63), Second: rgb(0xe0b050),
		Good: rgb(0x3fc39b), Bad: rgb(0xff8a5c), Open: rgb(0xf0c040),
		Accent: rgb(0xc7a2f2), Panel: rgb(0x23282e),
	}
}

// hatchInk is between the grid and faint words, so that a hatch is seen beside lines and does not drown what lies on it.
func (th Theme) hatchInk() color.RGBA {
	mid := func(a, b uint8) uint8 { return uint8((2*int(a) + int(b)) / 3) }
	return color.RGBA{mid(th.Grid.R, th.Faint.R), mid(th.Grid.G, th.Faint.G), mid(th.Grid.B, th.Faint.B), 255}
}
