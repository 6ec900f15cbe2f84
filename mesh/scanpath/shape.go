package scanpath

import "shutline/mesh/geom"

// Shape deforms everything that was scanned, about the middle of the body, by
// small displacements (for x, y, z from the middle, mm):
//
//	Scale   (s_x x, s_y y, s_z z)
//	BendY   (-k x y, k x²/2, 0),  k = 8 BendY / Length²: a beam's bend, plane sections stay plane
//	BendZ   (-k x z, 0, k x²/2)
//	Twist   (0, -t x z, t x y)
//	Shear   (c y + b z, c x + a z, b x + a y)/2, with Shear = (a, b, c): the angles lost between YZ, XZ, XY
type Shape struct {
	Scale geom.Vec // parts in one along X, Y, Z: 1e-4 is 100 ppm
	BendY float64  // mm of sagitta over the length: the ends move by that along +Y against the middle
	BendZ float64
	Twist float64  // radians per mm about X: 0.9e-6 is 0.9 mrad per metre
	Shear geom.Vec // radians
}

// middle is the middle of the body.
var middle = geom.Vec{X: Length / 2, Z: (sillZ + roofZ) / 2}

// Moves returns the displacement of a point of the body.
func (s *Shape) Moves(p geom.Vec) geom.Vec {
	d := p.Sub(middle)
	x, y, z := d.X, d.Y, d.Z
	out := geom.Vec{X: float64(s.Scale.X * x), Y: float64(s.Scale.Y * y), Z: float64(s.Scale.Z * z)}
	ky, kz := 8*s.BendY/(Length*Length), 8*s.BendZ/(Length*Length)
	out.X -= float64(float64(ky*x)*y) + float64(float64(kz*x)*z)
	out.Y += float64(ky*x*x/2) - float64(float64(s.Twist*x)*z)
	out.Z += float64(kz*x*x/2) + float64(float64(s.Twist*x)*y)
	a, b, c := s.Shear.X/2, s.Shear.Y/2, s.Shear.Z/2
	out.X += float64(c*y) + float64(b*z)
	out.Y += float64(c*x) + float64(a*z)
	out.Z += float64(b*x) + float64(a*y)
	return out
}

// Fault is what is wrong with the sheet metal.
type Fault struct {
	Dent   float64 // mm deep, inward, in the left sliding door, 160 mm across
	Door   float64 // mm the left front door stands proud, from shut line to shut line
	Bulges []Bulge // more, anywhere on the wall
}

// Bulge is a dome (1-ρ²)³ on the wall.
type Bulge struct{ U, V, Radius, Height float64 }

// features returns the relief that the faults are.
func (f *Fault) features() []feature {
	var out []feature
	if f.Dent != 0 {
		out = append(out, feature{dome, 2330 + sideU, 480, 80, 80, -f.Dent, 0})
	}
	if f.Door != 0 {
		lo, hi := ShutLines()[0], ShutLines()[1]
		// The flank along U is cut off by the gap; up the wall it fades below the roof's roll.
		out = append(out, feature{door, (lo + hi) / 2, 560, (hi - lo) / 2, 460, f.Door, 200})
	}
	for _, b := range f.Bulges {
		out = append(out, feature{dome, b.U, b.V, b.Radius, b.Radius, b.Height, 0})
	}
	return out
}
