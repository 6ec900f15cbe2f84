// Package shade draws meshes on the CPU: camera, depth-buffered smooth-shaded
// triangles, the diverging colour scale and picking. It knows no files and no toolkit.
package shade

import (
	"image"
	"image/color"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// Scale maps a deviation in mm to a colour. Inside the tolerance the part stays
// a neutral light grey; outside it a diverging scale grows with the deviation up to Limit.
type Scale struct {
	Tolerance verdict.Tolerance
	Limit     float64 // mm, where the scale ends on both sides
}

// Color returns the colour of a deviation.
func (s Scale) Color(mm float64) color.RGBA { return color.RGBA{A: 255} }

// Model is a mesh made ready for drawing.
type Model struct{}

// NewModel prepares a mesh. normals are the vertex normals or nil.
func NewModel(m *mesh.Mesh, normals []geom.Vec) *Model { return &Model{} }

// Paint sets what is drawn at each vertex: a deviation in mm where known[i],
// hatched where not. nil paints the mesh neutral.
func (m *Model) Paint(mm []float64, known []bool, scale Scale) {}

// Camera looks from Eye... an orthographic view: Target is the middle of the
// picture, Right and Up are unit, Height is the picture's height in mm.
type Camera struct {
	Target    geom.Vec
	Right, Up geom.Vec
	Height    float64
}

// ViewOf returns the named view ("left", "right", "front", "rear", "top",
// "bottom", "three-quarter") fitted to the box, for a picture of aspect width/height.
func ViewOf(name string, box geom.Box, aspect float64) (Camera, bool) { return Camera{}, false }

// ViewNames lists the names ViewOf knows.
func ViewNames() []string { return nil }

// Picture is a finished frame with its depths, for picking.
type Picture struct{ Image *image.RGBA }

// Theme gives the colours around the part.
type Theme struct{ Background, Foreground, Neutral, Hatch color.RGBA }

// Render draws the models into a picture of w by h pixels.
func Render(models []*Model, c Camera, theme Theme, w, h, threads int) *Picture { return &Picture{} }

// Pick returns the surface point drawn at pixel x, y.
func (p *Picture) Pick(x, y int) (at geom.Vec, model int, face uint32, ok bool) { return }
