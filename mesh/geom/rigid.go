package geom

// Mat3 is a 3 by 3 matrix, row by row.
type Mat3 [3][3]float64

// Identity3 returns the unit matrix.
func Identity3() Mat3 { return Mat3{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} }

// MulVec returns m v.
func (m Mat3) MulVec(v Vec) Vec {
	return Vec{
		float64(m[0][0]*v.X) + float64(m[0][1]*v.Y) + float64(m[0][2]*v.Z),
		float64(m[1][0]*v.X) + float64(m[1][1]*v.Y) + float64(m[1][2]*v.Z),
		float64(m[2][0]*v.X) + float64(m[2][1]*v.Y) + float64(m[2][2]*v.Z),
	}
}

// Mul returns m n.
func (m Mat3) Mul(n Mat3) Mat3 {
	var r Mat3
	for i := range 3 {
		for j := range 3 {
			r[i][j] = float64(m[i][0]*n[0][j]) + float64(m[i][1]*n[1][j]) + float64(m[i][2]*n[2][j])
		}
	}
	return r
}

// Transpose returns the matrix with rows and columns exchanged.
func (m Mat3) Transpose() Mat3 {
	var r Mat3
	for i := range 3 {
		for j := range 3 {
			r[i][j] = m[j][i]
		}
	}
	return r
}

// Det returns the determinant.
func (m Mat3) Det() float64 {
	a, b, c := Vec{m[0][0], m[0][1], m[0][2]}, Vec{m[1][0], m[1][1], m[1][2]}, Vec{m[2][0], m[2][1], m[2][2]}
	return a.Dot(b.Cross(c))
}

// Rigid is a rigid motion, p -> R p + T with det R = +1 and T in mm. Variables
// are named target-from-source: referenceFromScan carries scan coordinates
// into the reference's frame.
type Rigid struct {
	R Mat3
	T Vec
}

// Identity returns the motion that moves nothing.
func Identity() Rigid { return Rigid{R: Identity3()} }

// Apply carries a point.
func (g Rigid) Apply(p Vec) Vec { return g.R.MulVec(p).Add(g.T) }

// ApplyDir carries a direction: it is turned, not shifted.
func (g Rigid) ApplyDir(d Vec) Vec { return g.R.MulVec(d) }

// After returns the motion that first does h, then g: (g after h)(p) = g(h(p)).
// Names cancel: aFromC = aFromB.After(bFromC).
func (g Rigid) After(h Rigid) Rigid { return Rigid{g.R.Mul(h.R), g.Apply(h.T)} }

// Inverse returns the motion that undoes g.
func (g Rigid) Inverse() Rigid {
	rt := g.R.Transpose()
	return Rigid{rt, rt.MulVec(g.T).Neg()}
}

// Rotation returns the turn by angle radians about the axis through the
// origin (Rodrigues' formula). A zero axis gives the identity.
func Rotation(axis Vec, angle float64) Rigid {
	k := axis.Unit()
	if k == (Vec{}) {
		return Identity()
	}
	s, c := Sincos(angle)
	v := 1 - c
	return Rigid{R: Mat3{
		{c + float64(v*k.X*k.X), float64(v*k.X*k.Y) - float64(s*k.Z), float64(v*k.X*k.Z) + float64(s*k.Y)},
		{float64(v*k.X*k.Y) + float64(s*k.Z), c + float64(v*k.Y*k.Y), float64(v*k.Y*k.Z) - float64(s*k.X)},
		{float64(v*k.X*k.Z) - float64(s*k.Y), float64(v*k.Y*k.Z) + float64(s*k.X), c + float64(v*k.Z*k.Z)},
	}}
}

// RotationVector returns the turn whose axis is w and whose angle is |w| radians.
func RotationVector(w Vec) Rigid { return Rotation(w, w.Norm()) }

// Angle returns the angle of the turn in radians, 0 to pi.
func (g Rigid) Angle() float64 {
	// The skew part keeps small angles exact where the trace alone loses half the digits.
	s := Vec{g.R[2][1] - g.R[1][2], g.R[0][2] - g.R[2][0], g.R[1][0] - g.R[0][1]}.Norm()
	return Atan2(s, g.R[0][0]+g.R[1][1]+g.R[2][2]-1)
}

// Orthonormal returns the motion with its rows made square and of unit length
// again (Gram-Schmidt), to be called after long chains of products.
func (g Rigid) Orthonormal() Rigid {
	a := Vec{g.R[0][0], g.R[0][1], g.R[0][2]}.Unit()
	b := Vec{g.R[1][0], g.R[1][1], g.R[1][2]}
	b = b.AddScaled(-a.Dot(b), a).Unit()
	c := a.Cross(b)
	return Rigid{Mat3{{a.X, a.Y, a.Z}, {b.X, b.Y, b.Z}, {c.X, c.Y, c.Z}}, g.T}
}

// MaxDisplacement returns the greatest distance, in mm, between g(p) and h(p)
// for p in the box. It is reached at a corner, since the distance is convex in p.
func MaxDisplacement(g, h Rigid, box Box) float64 {
	d := 0.0
	for _, p := range box.Corners() {
		d = max(d, g.Apply(p).Dist(h.Apply(p)))
	}
	return d
}
