package shade

import (
	"math"

	"shutline/mesh/geom"
)

// Hit is a surface point found under a pixel.
type Hit struct {
	At      geom.Vec   // in the reference's frame, mm
	Model   int        // index into the models drawn
	Face    uint32     // of that model's mesh
	Weights [3]float64 // of the face's corners, adding up to 1
	Vertex  uint32     // the face's corner nearest to At
	Inner   bool       // the face shows its inner side
}

// Pick returns the surface point drawn at pixel x, y.
func (p *Picture) Pick(x, y int) (at geom.Vec, model int, face uint32, ok bool) {
	hit, ok := p.PickHit(x, y)
	return hit.At, hit.Model, hit.Face, ok
}

// PickHit is Pick with everything known about the point. It looks through the
// clusters over the pixel, so it works on a picture shown at another size too,
// given coordinates of the size it was drawn at.
func (p *Picture) PickHit(x, y int) (hit Hit, ok bool) {
	w, h := p.Size()
	if x < 0 || y < 0 || x >= w || y >= h || !(p.Camera.Height > 0) {
		return hit, false
	}
	far, near := depthSpan(p.models, p.Camera)
	best := math.Inf(-1)
	for i, m := range p.models {
		at := picker{frame: newFrame(p.Camera, w, h, m, i, far, near), px: int64(x)<<subBits + sub/2, py: int64(y)<<subBits + sub/2, best: best}
		if at.model(m) {
			best, ok = at.best, true
			hit.Model, hit.Face = i, at.face
		}
	}
	if ok {
		p.locate(&hit, float64(x)+0.5, float64(y)+0.5, w, h)
	}
	return hit, ok
}

// picker looks for the nearest triangle over one pixel's middle.
type picker struct {
	*frame
	px, py int64 // subpixels
	best   float64
	face   uint32
}

// model looks through a model's triangles and reports whether one lies before depth best.
func (p *picker) model(m *Model) (found bool) {
	if len(m.corner) > 0 {
		for k := range m.clusters {
			found = p.cluster(m, &m.clusters[k]) || found
		}
	}
	for i := range m.wide {
		w := &m.wide[i]
		var t [3]clipCorner
		for k := range t {
			t[k] = p.corner(w.corner[k], &w.normal[k], bareCode)
		}
		found = p.triangle(t, w.face) || found
	}
	return found
}

func (p *picker) cluster(m *Model, c *cluster) (found bool) {
	// A subpixel of room for the rounding of corners.
	if x, rx := span(&p.x, c); math.Abs(float64(p.px)-x) > rx+1 {
		return false
	}
	if y, ry := span(&p.y, c); math.Abs(float64(p.py)-y) > ry+1 {
		return false
	}
	if z, rz := span(&p.z, c); z+rz+1 < p.best {
		return false
	}
	for i, t := range m.corner[c.face : c.face+uint32(c.size)] {
		var corners [3]clipCorner
		for k, v := range t {
			at := c.vertex + uint32(v)
			corners[k] = p.corner(m.placeOf(c, at), &m.normal[at], bareCode)
		}
		found = p.triangle(corners, m.face[c.face+uint32(i)]) || found
	}
	return found
}

// triangle takes a triangle that holds the pixel's middle and is the nearest so far. Corners are snapped
// as in drawing, so that the triangles that were drawn there are found.
func (p *picker) triangle(t [3]clipCorner, face uint32) bool {
	var x, y [3]float64
	for k := range t {
		x[k], y[k] = math.Floor(t[k][0]+0.5)-float64(p.px), math.Floor(t[k][1]+0.5)-float64(p.py)
	}
	w0 := float64(x[1]*y[2]) - float64(x[2]*y[1])
	w1 := float64(x[2]*y[0]) - float64(x[0]*y[2])
	w2 := float64(x[0]*y[1]) - float64(x[1]*y[0])
	if !(w0 >= 0 && w1 >= 0 && w2 >= 0 || w0 <= 0 && w1 <= 0 && w2 <= 0) {
		return false
	}
	area := w0 + w1 + w2
	if area == 0 {
		return false
	}
	depth := (float64(w0*t[0][2]) + float64(w1*t[1][2]) + float64(w2*t[2][2])) / area
	if depth <= p.best {
		return false
	}
	p.best, p.face = depth, face
	return true
}

// locate puts the hit on its face, where the line of sight through x, y meets the face's plane.
func (p *Picture) locate(hit *Hit, x, y float64, w, h int) {
	m := p.models[hit.Model].mesh
	a, b, c := m.Corners(hit.Face)
	back := p.Camera.Back()
	n := b.Sub(a).Cross(c.Sub(a))
	eye := p.Camera.Unproject(x, y, 0, w, h)
	hit.Inner = n.Dot(back) < 0
	at := eye.AddScaled(a.Sub(eye).Dot(n)/n.Dot(back), back)
	area := n.Norm2()
	weights := [3]float64{c.Sub(b).Cross(at.Sub(b)).Dot(n) / area, a.Sub(c).Cross(at.Sub(c)).Dot(n) / area, 0}
	weights[2] = 1 - weights[0] - weights[1]
	// A sliver or a face seen edge-on throws the plane's point off: keep it on the face.
	sum := 0.0
	for k, v := range weights {
		if !(v > 0) {
			v = 0
		}
		weights[k] = min(v, 1)
		sum += weights[k]
	}
	if sum == 0 {
		weights, sum = [3]float64{1, 1, 1}, 3
	}
	largest := 0
	for k := range weights {
		weights[k] /= sum
		if weights[k] > weights[largest] {
			largest = k
		}
	}
	hit.Weights = weights
	hit.At = a.Scale(weights[0]).AddScaled(weights[1], b).AddScaled(weights[2], c)
	hit.Vertex = m.Faces[hit.Face][largest]
}

// Hidden reports whether what is drawn covers the point by more than slack mm, as seen at the point's pixel. Points
// outside the picture are not hidden.
func (p *Picture) Hidden(point geom.Vec, slack float64) bool {
	w, h := p.Size()
	x, y, depth := p.Camera.Project(point, w, h)
	if !(x >= 0 && y >= 0 && x < float64(w) && y < float64(h)) || len(p.depth) < w*h {
		return false
	}
	drawn := p.depth[int(y)*w+int(x)]
	return drawn > 0 && float64(float64(drawn-1)/p.perMM)+p.far > depth+slack
}
