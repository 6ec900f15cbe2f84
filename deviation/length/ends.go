package length

import (
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// EndKind is what a length ends at.
type EndKind uint8

// The kinds of ends.
const (
	OnLine   EndKind = iota // where the line through both points meets the surface
	Plane                   // a plane through the surface within Radius of At
	Cylinder                // the axis of a hole's wall, a pin or a tube of about Radius around At
	Sphere                  // the centre of a sphere of about Radius around At
	Farthest                // the body's farthest place along an axis
)

// String returns the word used in files and sentences.
func (k EndKind) String() string {
	return [...]string{"line", "plane", "cylinder", "sphere", "extreme"}[k]
}

// End is a form that a length ends at.
type End struct {
	Kind   EndKind
	At     geom.Vec // mm
	Radius float64  // mm: of the patch, or about of the form
	Axis   geom.Vec // of a cylinder, where it is known; zero: taken from the sheet around it, or from the wall
}

// Fit is a form that was fitted to the scan.
type Fit struct {
	Kind       EndKind
	At         geom.Vec // mm: the middle of the patch, the axis beside the middle of the wall seen, the centre
	Dir        geom.Vec // unit normal or axis
	Radius     float64  // mm, of cylinders and spheres
	RadiusU    float64  // mm, k = 2
	RMS        float64  // mm, of the points used about it
	Form       float64  // mm, the greatest less the smallest deviation of the points used
	Points     int
	covariance [3][3]float64 // mm², of At; nothing along what the form does not tell
	tilt       [3][3]float64 // of Dir
}

// between returns how far two forms lie apart, with a standard uncertainty: planes along their
// normal at their patches' middles, cylinders square to their axes, else in a straight line.
func between(a, b *Fit) (distance, u float64, why string) {
	span := b.At.Sub(a.At)
	dir, why := measuringDirection(a, b, span)
	if why != "" {
		return 0, 0, why
	}
	distance = span.Dot(dir)
	if distance < 0 {
		distance, dir = -distance, dir.Neg()
	}
	v := 0.0
	lateral := span.AddScaled(-distance, dir)
	for _, f := range [2]*Fit{a, b} {
		v += quadratic(&f.covariance, dir)
		if f.Kind == Plane {
			share := 1.0
			if a.Kind == b.Kind {
				share = 0.25 // the mean of two normals
			}
			v += float64(share * quadratic(&f.tilt, lateral))
		}
	}
	return distance, math.Sqrt(max(v, 0)), ""
}

const (
	// parallelPlanes and parallelAxes are the widest angles, in degrees, at which two forms still have a distance.
	parallelPlanes = 5.0
	parallelAxes   = 15.0
)

func measuringDirection(a, b *Fit, span geom.Vec) (geom.Vec, string) {
	angle := func(c float64) float64 {
		c = math.Abs(c)
		return geom.Atan2(math.Sqrt(max(1-float64(c*c), 0)), c) * 180 / math.Pi
	}
	if a.Kind == Cylinder && b.Kind == Plane || a.Kind == Sphere && b.Kind != Sphere {
		a, b, span = b, a, span.Neg()
	}
	switch {
	case a.Kind == Plane && b.Kind == Plane:
		if w := angle(a.Dir.Dot(b.Dir)); w > parallelPlanes {
			return geom.Vec{}, fmt.Sprintf("The two planes are inclined to one another by %.1f°, more than %.0f°, so they have no distance.", w, parallelPlanes)
		}
		return meanDirection(a.Dir, b.Dir), ""
	case a.Kind == Plane && b.Kind == Cylinder:
		if w := 90 - angle(a.Dir.Dot(b.Dir)); w > parallelAxes {
			return geom.Vec{}, fmt.Sprintf("The axis is inclined to the plane by %.1f°, more than %.0f°, so they have no distance.", w, parallelAxes)
		}
		return a.Dir, ""
	case a.Kind == Plane:
		return a.Dir, ""
	case a.Kind == Cylinder:
		axis := a.Dir
		if b.Kind == Cylinder {
			if w := angle(a.Dir.Dot(b.Dir)); w > parallelAxes {
				return geom.Vec{}, fmt.Sprintf("The two axes are inclined to one another by %.1f°, more than %.0f°, so they have no distance.", w, parallelAxes)
			}
			axis = meanDirection(a.Dir, b.Dir)
		}
		if d := span.AddScaled(-span.Dot(axis), axis).Unit(); d != (geom.Vec{}) {
			return d, ""
		}
	default:
		if d := span.Unit(); d != (geom.Vec{}) {
			return d, ""
		}
	}
	return geom.Vec{}, "Both ends are the same place of the scan."
}

// meanDirection returns the middle of two directions whose signs do not matter.
func meanDirection(a, b geom.Vec) geom.Vec {
	if a.Dot(b) < 0 {
		b = b.Neg()
	}
	return a.Add(b).Unit()
}

func quadratic(c *[3][3]float64, d geom.Vec) float64 {
	s := 0.0
	for i := range 3 {
		for j := range 3 {
			s += float64(c[i][j] * float64(d.At(i)*d.At(j)))
		}
	}
	return s
}

// find fits the form of an end to the scan; without one it says why.
func find(m *mesh.Mesh, normals []geom.Vec, e End) (*Fit, string) {
	if near, d := nearest(m.Vertices, e.At); near < 0 || d > e.Radius+Reach {
		return nil, fmt.Sprintf("No surface lies within %.0f mm of the %s: the nearest is %.0f mm away.", e.Radius+Reach, e.Kind, d)
	}
	switch e.Kind {
	case Plane:
		return fitPlane(m, normals, e)
	case Cylinder:
		return fitCylinder(m, normals, e)
	}
	return fitSphere(m, normals, e)
}

// nearest returns the vertex nearest to p and its distance; -1 and infinity without any.
func nearest(points []geom.Vec, p geom.Vec) (int, float64) {
	best, d2 := -1, math.Inf(1)
	for i, v := range points {
		if d := v.Sub(p).Norm2(); d < d2 {
			best, d2 = i, d
		}
	}
	return best, math.Sqrt(d2)
}
