package main

import (
	"math"

	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// shape is one of the peer's meshes, made by the same formulas with lengths in mm,
// 1000 of ours to one of the peer's.
type shape struct {
	mesh    *mesh.Mesh
	normals []geom.Vec
	scalar  []float64 // 0 to 1, of every vertex
	camera  func(frame int) shade.Camera
}

const mmPerUnit = 1000

// makeShape makes the peer's "sheet" or "blob" of about so many triangles.
func makeShape(name string, triangles int) shape {
	s := shape{mesh: &mesh.Mesh{}}
	tilt, distance := -0.95, 3.4
	if name == "blob" {
		tilt, distance = -1.2, 3.2
		s.blob(triangles)
	} else {
		s.sheet(triangles)
	}
	s.camera = func(frame int) shade.Camera { return peerCamera(0.4+0.05*float64(frame), tilt, distance) }
	s.finish()
	return s
}

// peerCamera looks as the peer does, without its perspective: as large as the part is there at the middle.
func peerCamera(yaw, tilt, distance float64) shade.Camera {
	sy, cy := math.Sincos(yaw)
	st, ct := math.Sincos(tilt)
	const fieldOfView = 35 * math.Pi / 180
	return shade.Camera{
		Right:  geom.Vec{X: cy, Y: -sy},
		Up:     geom.Vec{X: ct * sy, Y: ct * cy, Z: -st},
		Height: 2 * distance * math.Tan(fieldOfView/2) * mmPerUnit,
	}
}

func (s *shape) add(x, y, z float64) {
	// The peer's vertices are float32.
	s.mesh.Vertices = append(s.mesh.Vertices, geom.Vec{X: float64(float32(x)), Y: float64(float32(y)), Z: float64(float32(z))})
}

func (s *shape) quad(a, b, c, d int) {
	s.mesh.Faces = append(s.mesh.Faces, [3]uint32{uint32(a), uint32(b), uint32(d)}, [3]uint32{uint32(a), uint32(d), uint32(c)})
}

// sheet is bumpy, open, 3.2 by 2 units.
func (s *shape) sheet(triangles int) {
	ny := int(math.Sqrt(float64(triangles)/2/1.6) + 0.5)
	nx := int(float64(ny)*1.6 + 0.5)
	for j := range ny + 1 {
		for i := range nx + 1 {
			x, y := (2*float64(i)/float64(nx)-1)*1.6, 2*float64(j)/float64(ny)-1
			s.add(x, y, 0.06*math.Sin(9*x)*math.Cos(7*y)+0.02*math.Sin(31*x+1.3)*math.Sin(27*y)+0.004*math.Sin(97*x)*math.Cos(89*y))
		}
	}
	for j := range ny {
		for i := range nx {
			a := j*(nx+1) + i
			s.quad(a, a+1, a+nx+1, a+nx+2)
		}
	}
}

// blob is closed: a cube pulled over a ball with two ears and a tail. Its six sides share no vertices.
func (s *shape) blob(triangles int) {
	n := int(math.Sqrt(float64(triangles)/12) + 0.5)
	axes := [6][3]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {1, 0, 2}, {2, 1, 0}, {0, 2, 1}}
	for f, axis := range axes {
		sign := 1.0
		if f > 2 {
			sign = -1
		}
		base := len(s.mesh.Vertices)
		for j := range n + 1 {
			for i := range n + 1 {
				var p [3]float64
				p[axis[0]] = math.Tan((2*float64(i)/float64(n) - 1) * math.Pi / 4)
				p[axis[1]] = math.Tan((2*float64(j)/float64(n) - 1) * math.Pi / 4)
				p[axis[2]] = sign
				d := geom.Vec{X: p[0], Y: p[1], Z: p[2]}.Unit()
				x, y, z := d.X, d.Y, d.Z
				r := 0.7 + 0.5*lobe(d, geom.Vec{X: 0.35, Y: 0.2, Z: 1}, 0.03) + 0.5*lobe(d, geom.Vec{X: -0.35, Y: 0.2, Z: 1}, 0.03) +
					0.2*lobe(d, geom.Vec{Y: -1, Z: -0.2}, 0.05) +
					0.02*math.Sin(9*x+2)*math.Sin(8*y)*math.Sin(10*z) + 0.004*math.Sin(41*x)*math.Sin(37*y+1)*math.Sin(43*z)
				s.add(x*r, y*r, z*r-0.2)
			}
		}
		for j := range n {
			for i := range n {
				a := base + j*(n+1) + i
				s.quad(a, a+1, a+n+1, a+n+2)
			}
		}
	}
}

func lobe(d, toward geom.Vec, width float64) float64 {
	return math.Exp(-(1 - d.Dot(toward.Unit())) / width)
}

// finish gives every vertex its normal and its scalar, and turns units into millimetres.
func (s *shape) finish() {
	s.normals = s.mesh.VertexNormals()
	s.scalar = make([]float64, len(s.mesh.Vertices))
	for i, p := range s.mesh.Vertices {
		v := 0.5 + 0.45*math.Sin(3*p.X+2*p.Y)*math.Cos(4*p.Y+p.Z) + 0.04*(hash01(uint32(i))-0.5)
		s.scalar[i] = max(0, min(1, v))
		s.mesh.Vertices[i] = p.Scale(mmPerUnit)
	}
}

// hash01 is the peer's noise.
func hash01(v uint32) float64 {
	v ^= v >> 16
	v *= 0x7feb352d
	v ^= v >> 15
	v *= 0x846ca68b
	v ^= v >> 16
	return float64(v) / (1 << 32)
}
