package ui

import (
	"math"

	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// firstView stands for the view a part is shown in first: the one from which it
// is seen broadest, its outside toward the viewer.
const firstView = "first"

// firstLook is that view: a named one, or a direction of its own for a part
// that lies askew to its axes, as a scan does before it is placed.
type firstLook struct {
	name   string // "" for camera
	camera shade.Camera
	wide   float64 // mm the part takes up across and upright in the camera
	high   float64
}

// fit returns the camera with the whole part in a picture of aspect width/height.
func (l firstLook) fit(aspect float64) shade.Camera {
	const margin = 0.06 // on each side, as in the named views
	c := l.camera
	c.Height = max(1, max(l.high, l.wide/aspect)/(1-2*margin))
	return c
}

// mostLooked bounds the faces looked at; a part's broad side shows in far fewer.
const mostLooked = 200_000

// namedEnough is the share of what is seen along the part's mean normal that a
// named view must show to be taken instead: people know where they stand in it.
const namedEnough = 0.9

// broadest returns the view from which most outside is seen, on the area of the
// faces turned to the viewer. Of two sides alike the one named first is taken.
func broadest(m *mesh.Mesh) firstLook {
	if len(m.Faces) == 0 {
		return firstLook{name: flattest(m.Bounds())}
	}
	stride := 1 + len(m.Faces)/mostLooked
	var areas, middles []geom.Vec // vector areas; in mm², and where they lie
	var sum geom.Vec
	for i := 0; i < len(m.Faces); i += stride {
		a, b, c := m.Corners(uint32(i))
		n := b.Sub(a).Cross(c.Sub(a))
		areas, middles = append(areas, n), append(middles, a.Add(b).Add(c).Scale(1./3))
		sum = sum.Add(n)
	}
	seen := func(back geom.Vec) float64 {
		total := 0.0
		for _, n := range areas {
			total += max(0, n.Dot(back))
		}
		return total
	}
	best, name, box := 0.0, "left", m.Bounds()
	for _, v := range namedViews {
		c, _ := shade.ViewOf(v.name, box, 1)
		const alike = 1.02
		if s := seen(c.Back()); s > alike*best {
			best, name = s, v.name
		}
	}
	back := sum.Unit()
	if back == (geom.Vec{}) || best >= namedEnough*seen(back) {
		return firstLook{name: name}
	}
	l := firstLook{camera: lyingAlong(back, areas, middles)}
	l.measure(m)
	return l
}

// uprightBy returns the view of an unplaced scan that shows it as the reference's first view shows that one: placing tells
// which way up a scan belongs, whatever frame its file has.
func uprightBy(reference firstLook, box geom.Box, referenceFromScan geom.Rigid, scan *mesh.Mesh) firstLook {
	c := reference.camera
	if reference.name != "" {
		c, _ = shade.ViewOf(reference.name, box, 1)
	}
	back := referenceFromScan.Inverse()
	l := firstLook{camera: shade.Camera{Right: back.ApplyDir(c.Right), Up: back.ApplyDir(c.Up), Height: 1000}}
	l.measure(scan)
	return l
}

// measure finds how large the part is in the camera, and its middle.
func (l *firstLook) measure(m *mesh.Mesh) {
	c := &l.camera
	box := geom.EmptyBox()
	for _, p := range m.Vertices {
		box = box.Extend(geom.Vec{X: p.Dot(c.Right), Y: p.Dot(c.Up), Z: p.Dot(c.Back())})
	}
	mid, size := box.Center(), box.Size()
	c.Target = c.Right.Scale(mid.X).AddScaled(mid.Y, c.Up).AddScaled(mid.Z, c.Back())
	l.wide, l.high = size.X, size.Y
}

// flattest names the view onto the broadest side of a box, of a part without faces.
func flattest(box geom.Box) string {
	s := box.Size()
	switch least := min(s.X, s.Y, s.Z); {
	case s.Y == least:
		return "left"
	case s.Z == least:
		return "top"
	}
	return "front"
}

// lyingAlong returns a camera that looks from back and has the part lying: its
// longest extent, seen from there, is level.
func lyingAlong(back geom.Vec, areas, middles []geom.Vec) shade.Camera {
	c := facing(back, shade.Camera{Up: geom.Vec{Y: 1}})
	var weight, x, y, xx, xy, yy float64
	for i, p := range middles {
		w := areas[i].Norm()
		px, py := p.Dot(c.Right), p.Dot(c.Up)
		weight += w
		x += w * px
		y += w * py
		xx += w * px * px
		xy += w * px * py
		yy += w * py * py
	}
	xx, xy, yy = xx-x*x/weight, xy-x*y/weight, yy-y*y/weight
	s, k := math.Sincos(math.Atan2(2*xy, xx-yy) / 2) // the axis of largest spread
	right := c.Right.Scale(k).AddScaled(s, c.Up)
	up := back.Cross(right)
	if up.Z < 0 {
		right, up = right.Neg(), up.Neg()
	}
	return shade.Camera{Right: right, Up: up, Height: 1000}
}

// facing returns the camera turned to look along a surface's outward normal, upright where that has a meaning.
func facing(outward geom.Vec, c shade.Camera) shade.Camera {
	const steep = 0.95 // a roof or a floor has no upright; the view keeps its own
	up := geom.Vec{Z: 1}
	if math.Abs(outward.Z) > steep {
		up = c.Up
		if math.Abs(up.Dot(outward)) > steep {
			up = geom.Vec{Y: 1}
		}
	}
	c.Up = up.AddScaled(-up.Dot(outward), outward).Unit()
	c.Right = c.Up.Cross(outward).Unit()
	return c
}
