package ui

import (
	"fmt"

	"fyne.io/fyne/v2"
)

// glyphs are the drawings of the doors on a 44 by 44 grid: %[1]s ink, %[2]s accent.
var glyphs = map[string]string{
	"pair": `<path d="M4 30 C12 14 26 10 40 12" fill="none" stroke="%[1]s" stroke-width="2.4"/><path d="M4 36 C13 22 26 17 40 20" fill="none" stroke="%[2]s" stroke-width="2.4" stroke-dasharray="3 3"/>`,
	"job":  `<path d="M10 5 H27 L35 13 V39 H10 Z" fill="none" stroke="%[1]s" stroke-width="2.2"/><path d="M27 5 V13 H35" fill="none" stroke="%[1]s" stroke-width="2.2"/><path d="M15 22 H30 M15 28 H30 M15 34 H24" stroke="%[2]s" stroke-width="2.2"/>`,
	"demo": `<path d="M3 32 V15 C3 12 5 10 8 10 H29 L40 22 V32 Z" fill="none" stroke="%[1]s" stroke-width="2.2"/><path d="M27 10 V32" stroke="%[2]s" stroke-width="2.2"/><circle cx="12" cy="33" r="4.5" fill="none" stroke="%[1]s" stroke-width="2.2"/><circle cx="33" cy="33" r="4.5" fill="none" stroke="%[1]s" stroke-width="2.2"/>`,
}

func glyph(name string, p palette) fyne.Resource {
	ink := fmt.Sprintf("#%02x%02x%02x", p.Ink.R, p.Ink.G, p.Ink.B)
	accent := fmt.Sprintf("#%02x%02x%02x", p.Accent.R, p.Accent.G, p.Accent.B)
	svg := `<svg xmlns="http://www.w3.org/2000/svg" width="44" height="44" viewBox="0 0 44 44">` + fmt.Sprintf(glyphs[name], ink, accent) + `</svg>`
	return fyne.NewStaticResource("glyph-"+name+ink[1:]+".svg", []byte(svg))
}
