package meshio

import (
	"math"

	"shutline/mesh/geom"
)

// affine is the transform p -> M p + T of a node.
type affine struct {
	m geom.Mat3
	t geom.Vec
}

func identity() affine { return affine{m: geom.Identity3()} }

func (a affine) apply(p geom.Vec) geom.Vec { return a.m.MulVec(p).Add(a.t) }

// after returns the transform that first does b, then a.
func (a affine) after(b affine) affine { return affine{a.m.Mul(b.m), a.apply(b.t)} }

// normal carries a normal: by the cofactors of the matrix, which are its inverse transpose
// times its determinant, whose sign is that of a mirror.
func (a affine) normal(n geom.Vec) geom.Vec {
	x, y, z := column(a.m, 0), column(a.m, 1), column(a.m, 2)
	c := y.Cross(z).Scale(n.X).Add(z.Cross(x).Scale(n.Y)).Add(x.Cross(y).Scale(n.Z))
	if a.m.Det() < 0 {
		c = c.Neg()
	}
	return c.Unit()
}

func column(m geom.Mat3, k int) geom.Vec { return geom.Vec{X: m[0][k], Y: m[1][k], Z: m[2][k]} }

// unitQuaternion is how far from 1 the length of a rotation's quaternion may be: files hold float32 with some digits cut.
const unitQuaternion = 1e-3

// transform returns the node's own transform, or what is wrong with it: a matrix column
// by column, or scale, then rotation (a unit quaternion x, y, z, w), then translation.
func (n *gltfNode) transform() (affine, string) {
	if n.Matrix != nil {
		v := n.Matrix
		if len(v) != 16 {
			return affine{}, "its matrix does not have 16 numbers"
		}
		if v[3] != 0 || v[7] != 0 || v[11] != 0 || v[15] != 1 {
			return affine{}, "the last row of its matrix is not 0 0 0 1"
		}
		return affine{
			m: geom.Mat3{{v[0], v[4], v[8]}, {v[1], v[5], v[9]}, {v[2], v[6], v[10]}},
			t: geom.Vec{X: v[12], Y: v[13], Z: v[14]},
		}, ""
	}
	a := identity()
	if v := n.Rotation; v != nil {
		if len(v) != 4 {
			return affine{}, "its rotation does not have 4 numbers"
		}
		l := math.Sqrt(float64(v[0]*v[0]) + float64(v[1]*v[1]) + float64(v[2]*v[2]) + float64(v[3]*v[3]))
		if !(math.Abs(l-1) <= unitQuaternion) {
			return affine{}, "its rotation is not a unit quaternion"
		}
		x, y, z, w := v[0]/l, v[1]/l, v[2]/l, v[3]/l
		a.m = geom.Mat3{
			{1 - 2*(float64(y*y)+float64(z*z)), 2 * (float64(x*y) - float64(z*w)), 2 * (float64(x*z) + float64(y*w))},
			{2 * (float64(x*y) + float64(z*w)), 1 - 2*(float64(x*x)+float64(z*z)), 2 * (float64(y*z) - float64(x*w))},
			{2 * (float64(x*z) - float64(y*w)), 2 * (float64(y*z) + float64(x*w)), 1 - 2*(float64(x*x)+float64(y*y))},
		}
	}
	if v := n.Scale; v != nil {
		if len(v) != 3 {
			return affine{}, "its scale does not have 3 numbers"
		}
		for i := range a.m {
			for j := range a.m[i] {
				a.m[i][j] *= v[j]
			}
		}
	}
	if v := n.Translation; v != nil {
		if len(v) != 3 {
			return affine{}, "its translation does not have 3 numbers"
		}
		a.t = geom.Vec{X: v[0], Y: v[1], Z: v[2]}
	}
	return a, ""
}
