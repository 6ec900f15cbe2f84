package shade

import (
	"math"

	"shutline/mesh/geom"
)

// Camera looks at a part: an orthographic view. Target is the middle of the
// picture, Right and Up are unit and square to each other, Height is the
// picture's height in mm. Its methods return a moved camera and leave c alone.
type Camera struct {
	Target    geom.Vec
	Right, Up geom.Vec
	Height    float64
}

// minHeight and maxHeight, in mm, bound the zoom: from well under a scan's point
// spacing to well over any vehicle.
const (
	minHeight = 1
	maxHeight = 1e6
)

// Back returns the unit direction from the part to the viewer.
func (c Camera) Back() geom.Vec { return c.Right.Cross(c.Up) }

// MMPerPixel returns the size of a pixel in a picture of h pixels' height.
func (c Camera) MMPerPixel(h int) float64 { return c.Height / float64(h) }

// Project returns where p appears in a picture of w by h pixels, in pixels from
// its upper left corner, and how far before the target it lies, in mm, larger being nearer.
func (c Camera) Project(p geom.Vec, w, h int) (x, y, depth float64) {
	d := p.Sub(c.Target)
	s := float64(h) / c.Height
	return float64(float64(w)/2) + float64(s*d.Dot(c.Right)), float64(float64(h)/2) - float64(s*d.Dot(c.Up)), d.Dot(c.Back())
}

// Unproject returns the point that Project takes to x, y and depth.
func (c Camera) Unproject(x, y, depth float64, w, h int) geom.Vec {
	s := c.Height / float64(h)
	return c.Target.AddScaled(s*(x-float64(float64(w)/2)), c.Right).AddScaled(s*(float64(float64(h)/2)-y), c.Up).AddScaled(depth, c.Back())
}

// orbitPerPixel, radians: a drag over 450 pixels turns the part half round.
const orbitPerPixel = 0.4 * math.Pi / 180

// Orbit turns the view as if the part stood on a turntable: dragging by dx
// pixels turns it about the vertical (z), dy pixels down tilts it toward the
// viewer. On HiDPI screens pass logical pixels.
func (c Camera) Orbit(dx, dy float64) Camera {
	turn := -dx * orbitPerPixel
	if c.Up.Z < 0 {
		turn = -turn
	}
	r := geom.Rotation(geom.Vec{Z: 1}, turn).After(geom.Rotation(c.Right, -dy*orbitPerPixel))
	c.Right, c.Up = r.ApplyDir(c.Right), r.ApplyDir(c.Up)
	return c.squared()
}

// OrbitAbout is Orbit about a point of the part, which stays where it is in the picture.
func (c Camera) OrbitAbout(pivot geom.Vec, dx, dy float64) Camera {
	before := pivot.Sub(c.Target)
	x, y, z := before.Dot(c.Right), before.Dot(c.Up), before.Dot(c.Back())
	c = c.Orbit(dx, dy)
	c.Target = pivot.AddScaled(-x, c.Right).AddScaled(-y, c.Up).AddScaled(-z, c.Back())
	return c
}

// Pan moves the part by dx, dy pixels (right and down) in a picture of h pixels' height.
func (c Camera) Pan(dx, dy float64, h int) Camera {
	s := c.MMPerPixel(h)
	c.Target = c.Target.AddScaled(-s*dx, c.Right).AddScaled(s*dy, c.Up)
	return c
}

// ZoomAt makes the part larger by factor, keeping what is at pixel x, y in place.
func (c Camera) ZoomAt(x, y, factor float64, w, h int) Camera {
	height := max(minHeight, min(maxHeight, c.Height/factor))
	if math.IsNaN(height) {
		return c
	}
	s := (c.Height - height) / float64(h)
	c.Target = c.Target.AddScaled(s*(x-float64(float64(w)/2)), c.Right).AddScaled(s*(float64(float64(h)/2)-y), c.Up)
	c.Height = height
	return c
}

// CenterOn moves the view so that p is in the middle.
func (c Camera) CenterOn(p geom.Vec) Camera {
	c.Target = p
	return c
}

// fitMargin is the share of the picture Fit leaves free around the part.
const fitMargin = 0.06

// Fit moves the view and its height so that the whole box is seen in a picture of aspect width/height.
func (c Camera) Fit(box geom.Box, aspect float64) Camera {
	if box.Empty() || !(aspect > 0) {
		return c
	}
	c.Target = box.Center()
	half := box.Size().Scale(0.5)
	across := math.Abs(half.X*c.Right.X) + math.Abs(half.Y*c.Right.Y) + math.Abs(half.Z*c.Right.Z)
	upward := math.Abs(half.X*c.Up.X) + math.Abs(half.Y*c.Up.Y) + math.Abs(half.Z*c.Up.Z)
	c.Height = max(minHeight, 2*max(upward, across/aspect)/(1-2*fitMargin))
	return c
}

// Inset returns the camera that shows in a picture of w by h pixels what c
// shows in the part of it that the margins (pixels) leave free.
func (c Camera) Inset(w, h int, left, top, right, bottom float64) Camera {
	fw, fh := float64(w)-left-right, float64(h)-top-bottom
	if fw <= 0 || fh <= 0 {
		return c
	}
	c.Height *= float64(h) / fh
	return c.Pan((left-right)/2, (top-bottom)/2, h)
}

// squared makes Right and Up unit and square again after a turn.
func (c Camera) squared() Camera {
	c.Right = c.Right.Unit()
	c.Up = c.Up.AddScaled(-c.Up.Dot(c.Right), c.Right).Unit()
	return c
}

// named is a standard view in vehicle axes: x rearward, y to the right, z up.
type named struct {
	name  string
	right geom.Vec
	up    geom.Vec
}

var views = []named{
	{"left", geom.Vec{X: 1}, geom.Vec{Z: 1}},
	{"right", geom.Vec{X: -1}, geom.Vec{Z: 1}},
	{"front", geom.Vec{Y: -1}, geom.Vec{Z: 1}},
	{"rear", geom.Vec{Y: 1}, geom.Vec{Z: 1}},
	{"top", geom.Vec{X: 1}, geom.Vec{Y: 1}},
	{"bottom", geom.Vec{X: 1}, geom.Vec{Y: -1}},
	{"three-quarter", geom.Vec{X: 0.8, Y: -0.6}, geom.Vec{X: 0.6 * 0.34, Y: 0.8 * 0.34, Z: 0.94}},
}

// ViewOf returns the named view ("left", "right", "front", "rear", "top",
// "bottom", "three-quarter") fitted to the box, for a picture of aspect
// width/height. Vehicle axes: x rearward, y to the right, z up; three-quarter
// looks at the left side from the front and a little above.
func ViewOf(name string, box geom.Box, aspect float64) (Camera, bool) {
	for _, v := range views {
		if v.name == name {
			c := Camera{Right: v.right, Up: v.up, Height: 1000}.squared()
			return c.Fit(box, aspect), true
		}
	}
	return Camera{}, false
}

// ViewNames lists the names ViewOf knows.
func ViewNames() []string {
	names := make([]string, len(views))
	for i, v := range views {
		names[i] = v.name
	}
	return names
}
