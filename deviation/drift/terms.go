package drift

import (
	"math"

	"shutline/mesh/geom"
)

// Kind is one of the shapes.
type Kind uint8

// The shapes, by the axes of [Frame]: x along the long axis, y along the middle one, z
// along the short one, all from the centre.
const (
	ScaleLong        Kind = iota // longer along the long axis: u = e x
	ScaleMiddle                  // along the middle one
	ScaleShort                   // along the short one
	BendMiddle                   // both ends toward +y, sections turned along: u = k (x²/2, -xy)
	BendShort                    // both ends toward +z
	Twist                        // sections turned about the long axis, by right hand rule more at +x
	ShearLongMiddle              // u = g/2 (y, x)
	ShearLongShort               // u = g/2 (z, x)
	ShearMiddleShort             // u = g/2 (z, y)
	kinds
)

// Kinds is how many shapes there are.
const Kinds = int(kinds)

// String returns the word used in files.
func (k Kind) String() string {
	return [...]string{"scale-long", "scale-middle", "scale-short", "bend-middle", "bend-short", "twist",
		"shear-long-middle", "shear-long-short", "shear-middle-short"}[k]
}

// Unit returns the unit of [Term.Value].
func (k Kind) Unit() string {
	switch k {
	case ScaleLong, ScaleMiddle, ScaleShort:
		return "ppm"
	case BendMiddle, BendShort:
		return "mm"
	case Twist:
		return "deg"
	}
	return "mm/m"
}

// Frame is what the shapes stand about: the centre of the part's area and its
// principal axes, of right hand, each looking the way of its largest component,
// the short one as the other two ask for.
type Frame struct {
	Centre geom.Vec
	Axes   [3]geom.Vec // unit: long, middle, short
	Size   [3]float64  // mm, extents along them
}

// perMM returns how a term's value follows from its size in mm.
//
// The size in mm is what the term does over the part: a scale's or a shear's
// change of length over the longer of its axes, a bend's sagitta over the length,
// and of a twist how far the edge, half the part's middle extent from the axis, moves at one end beside the other.
func (f *Frame) perMM(k Kind) float64 {
	switch k {
	case ScaleLong, ScaleMiddle, ScaleShort:
		return 1e6 / f.Size[k]
	case BendMiddle, BendShort:
		return 1
	case Twist:
		return 180 / math.Pi / (f.Size[1] / 2)
	case ShearMiddleShort:
		return 1e3 / f.Size[1]
	}
	return 1e3 / f.Size[0]
}

// local returns a point's coordinates about the centre.
func (f *Frame) local(p geom.Vec) geom.Vec {
	d := p.Sub(f.Centre)
	return geom.Vec{X: d.Dot(f.Axes[0]), Y: d.Dot(f.Axes[1]), Z: d.Dot(f.Axes[2])}
}

// global returns a local direction in the reference's frame.
func (f *Frame) global(u geom.Vec) geom.Vec {
	return geom.Vec{}.AddScaled(u.X, f.Axes[0]).AddScaled(u.Y, f.Axes[1]).AddScaled(u.Z, f.Axes[2])
}

// columns are the unknowns: the nine shapes, then three shifts along the axes in
// mm and three turns about them in mm at half the length, then by how much the whole skin stands
// proud: a film of spray or paint, or the facets' chords, make a closed body larger as a scale does.
const (
	motions = 6
	proud   = Kinds + motions
	columns = Kinds + motions + 1
)

type row = [columns]float64

// shape returns the local displacement of a term of 1 mm at a local point.
func (f *Frame) shape(k Kind, p geom.Vec) geom.Vec {
	switch k {
	case ScaleLong:
		return geom.Vec{X: p.X / f.Size[0]}
	case ScaleMiddle:
		return geom.Vec{Y: p.Y / f.Size[1]}
	case ScaleShort:
		return geom.Vec{Z: p.Z / f.Size[2]}
	case BendMiddle:
		c := 8 / float64(f.Size[0]*f.Size[0])
		return geom.Vec{X: -float64(c * p.X * p.Y), Y: float64(c * p.X * p.X / 2)}
	case BendShort:
		c := 8 / float64(f.Size[0]*f.Size[0])
		return geom.Vec{X: -float64(c * p.X * p.Z), Z: float64(c * p.X * p.X / 2)}
	case Twist:
		c := 2 / float64(f.Size[0]*f.Size[1])
		return geom.Vec{Y: -float64(c * p.X * p.Z), Z: float64(c * p.X * p.Y)}
	case ShearLongMiddle:
		c := 0.5 / f.Size[0]
		return geom.Vec{X: float64(c * p.Y), Y: float64(c * p.X)}
	case ShearLongShort:
		c := 0.5 / f.Size[0]
		return geom.Vec{X: float64(c * p.Z), Z: float64(c * p.X)}
	}
	c := 0.5 / f.Size[1]
	return geom.Vec{Y: float64(c * p.Z), Z: float64(c * p.Y)}
}

// motion returns the local displacement of motion m, of 1 mm, at a local point.
func (f *Frame) motion(m int, p geom.Vec) geom.Vec {
	c := 2 / f.Size[0]
	switch m {
	case 0:
		return geom.Vec{X: 1}
	case 1:
		return geom.Vec{Y: 1}
	case 2:
		return geom.Vec{Z: 1}
	case 3:
		return geom.Vec{Y: -float64(c * p.Z), Z: float64(c * p.Y)}
	case 4:
		return geom.Vec{X: float64(c * p.Z), Z: -float64(c * p.X)}
	}
	return geom.Vec{X: -float64(c * p.Y), Y: float64(c * p.X)}
}

// rowAt returns what each unknown adds to the deviation at a point of the
// reference with its unit normal, both local.
func (f *Frame) rowAt(q, n geom.Vec) (r row) {
	for k := range Kinds {
		r[k] = f.shape(Kind(k), q).Dot(n)
	}
	for m := range motions {
		r[Kinds+m] = f.motion(m, q).Dot(n)
	}
	r[proud] = 1
	return r
}

// displaced returns the displacement that shapes and motions together give a point, in
// the reference's frame.
func (f *Frame) displaced(p geom.Vec, by *row) geom.Vec {
	q := f.local(p)
	u := geom.Vec{}
	for k := range Kinds {
		if by[k] != 0 {
			u = u.AddScaled(by[k], f.shape(Kind(k), q))
		}
	}
	for m := range motions {
		if by[Kinds+m] != 0 {
			u = u.AddScaled(by[Kinds+m], f.motion(m, q))
		}
	}
	return f.global(u)
}

// What is taken as known beforehand, one standard deviation about nothing, so that a shape that
// no scanner makes is not taken for one that looks alike: on a skin that bulges by 0.1 m, a depth
// that is wrong by a percent is a bend of a millimetre. A scale error of 200 ppm is two to seven times
// what data sheets state; bends and twists may be of the size that the worst scanners drift by; films of
// spray are 5 to 20 µm thick, paint 100 to 150.
const (
	likelyStrain = 200e-6
	likelyProud  = 0.05  // mm
	likelyBend   = 30.0  // mm
	likelyMotion = 100.0 // mm
	// settledVariance, mm², is that of the mean of a hundred places that are known to 0.01 mm each.
	settledVariance = 1e-6
)

// likely returns the standard deviations of the unknowns that are known beforehand, mm.
func (f *Frame) likely() (sd row) {
	for k := range Kinds {
		switch Kind(k) {
		case BendMiddle, BendShort, Twist:
			sd[k] = likelyBend
		case ScaleLong, ScaleMiddle, ScaleShort:
			sd[k] = likelyStrain * f.Size[k]
		case ShearMiddleShort:
			sd[k] = likelyStrain * f.Size[1]
		default:
			sd[k] = likelyStrain * f.Size[0]
		}
	}
	for m := range motions {
		sd[Kinds+m] = likelyMotion
	}
	sd[proud] = likelyProud
	return sd
}
