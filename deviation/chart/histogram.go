package chart

import (
	"image"

	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

// Histogram draws how much surface has which deviation (mm), each value
// weighted by its area; weights nil counts every value once. Bars have the
// colours of the scale.
func Histogram(w, h int, th Theme, scale float64, values, weights []float64, tol verdict.Tolerance, sc shade.Scale) *image.RGBA {
	return image.NewRGBA(image.Rect(0, 0, w, h))
}

// HistogramAxis ties the pixels of a histogram to deviations, for a brush on it.
type HistogramAxis struct {
	Left, Right float64 // device pixels, ends of the plot
	From, To    float64 // mm at those ends
}

// HistogramLayout returns the axis Histogram draws with, for the same arguments.
func HistogramLayout(w, h int, scale float64, values []float64, tol verdict.Tolerance, sc shade.Scale) HistogramAxis {
	return HistogramAxis{}
}

// Value returns the deviation in mm at pixel x.
func (a HistogramAxis) Value(x float64) float64 {
	if a.Right <= a.Left {
		return a.From
	}
	return a.From + (a.To-a.From)*(x-a.Left)/(a.Right-a.Left)
}

// X returns the pixel of a deviation in mm.
func (a HistogramAxis) X(mm float64) float64 {
	if a.To <= a.From {
		return a.Left
	}
	return a.Left + (a.Right-a.Left)*(mm-a.From)/(a.To-a.From)
}
