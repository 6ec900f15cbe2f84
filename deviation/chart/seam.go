package chart

import (
	"image"

	"shutline/deviation/gapflush"
)

// Seam draws gap (above) and flush (below) along a seam with the tolerance
// bands, the uncertainty as a ribbon and a mark per station in the shape of its
// verdict. marker is the index in r.Stations of the selected station, or -1.
func Seam(w, h int, th Theme, scale float64, r *gapflush.Result, marker int) *image.RGBA {
	return image.NewRGBA(image.Rect(0, 0, w, h))
}

// SeamAxis ties the pixels of a seam chart to its stations.
type SeamAxis struct {
	Left, Right float64 // device pixels, ends of the plot
	From, To    float64 // mm along the seam at those ends
	along       []float64
}

// SeamLayout returns the axis Seam draws with, for the same arguments.
func SeamLayout(w, h int, scale float64, r *gapflush.Result) SeamAxis { return SeamAxis{} }

// StationAt returns the index in r.Stations of the station nearest to pixel x, or -1 without any.
func (a SeamAxis) StationAt(x float64) int { return -1 }

// X returns the pixel of the station with the given index in r.Stations.
func (a SeamAxis) X(station int) float64 { return 0 }
