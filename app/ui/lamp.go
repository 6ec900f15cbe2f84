package ui

import (
	"fmt"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"

	"shutline/app/bench"
)

// lampShapes are the lamps on a 24 by 24 grid; %s is the colour. Each has its own
// outline, so that it can be told without seeing the colour.
var lampShapes = map[bench.Lamp]string{
	bench.NotDone: `<circle cx="12" cy="12" r="7.5" fill="none" stroke="%[1]s" stroke-width="2"/>`,
	bench.Working: `<circle cx="12" cy="12" r="7.5" fill="none" stroke="%[1]s" stroke-width="2"/><path d="M12 12 L12 4.5 A7.5 7.5 0 0 1 19.5 12 Z" fill="%[1]s"/>`,
	bench.Done:    `<circle cx="12" cy="12" r="6" fill="%[1]s"/>`,
	bench.Good:    `<path d="M4.5 12.5 L9.8 18 L19.5 6.5" fill="none" stroke="%[1]s" stroke-width="3.2"/>`,
	bench.Bad:     `<path d="M5.5 5.5 L18.5 18.5 M18.5 5.5 L5.5 18.5" fill="none" stroke="%[1]s" stroke-width="3.2"/>`,
	bench.Open:    `<path d="M7.2 8.6 C7.2 5.6 9.3 4 12 4 C14.8 4 16.8 5.7 16.8 8.2 C16.8 11.5 12.2 11.6 12.2 15.2" fill="none" stroke="%[1]s" stroke-width="2.8"/><circle cx="12.2" cy="19.4" r="1.8" fill="%[1]s"/>`,
	bench.Stale:   `<path d="M12 4.5 L20.5 19 L3.5 19 Z" fill="none" stroke="%[1]s" stroke-width="2.2"/>`,
	bench.Failed:  `<circle cx="12" cy="12" r="8.5" fill="none" stroke="%[1]s" stroke-width="2"/><path d="M6.5 12 L17.5 12" stroke="%[1]s" stroke-width="3"/>`,
}

// lampColor returns the colour that goes with a lamp's shape.
func lampColor(l bench.Lamp, p palette) color.RGBA {
	switch l {
	case bench.Good:
		return p.Good
	case bench.Bad, bench.Failed:
		return p.Bad
	case bench.Open, bench.Stale:
		return p.Open
	case bench.Done, bench.Working:
		return p.Line
	}
	return p.Faint
}

// lampImage returns the drawing of a lamp.
func lampImage(l bench.Lamp, size float32) *canvas.Image {
	img := canvas.NewImageFromResource(lampResource(l, currentPalette()))
	img.FillMode = canvas.ImageFillContain
	img.SetMinSize(fyne.NewSquareSize(size))
	return img
}

func lampResource(l bench.Lamp, p palette) fyne.Resource {
	c := lampColor(l, p)
	code := fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
	svg := `<svg xmlns="http://www.w3.org/2000/svg" width="24" height="24" viewBox="0 0 24 24">` + fmt.Sprintf(lampShapes[l], code) + `</svg>`
	return fyne.NewStaticResource(fmt.Sprintf("lamp-%d-%s.svg", int(l), code[1:]), []byte(svg))
}
