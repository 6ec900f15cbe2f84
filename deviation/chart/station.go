package chart

import (
	"image"

	"shutline/deviation/gapflush"
)

// Station draws a station's profile to scale, with what was fitted and measured.
func Station(w, h int, th Theme, scale float64, seam gapflush.Seam, st *gapflush.Station) *image.RGBA {
	return image.NewRGBA(image.Rect(0, 0, w, h))
}
