package pieces

import (
	"math"

	"shutline/mesh/geom"
)

// A twist is a small rigid motion about a centre: p moves by t + w × (p − centre), with
// t its first three numbers in mm and w its last three in radians.

// moved returns the motion exp(x) about a centre, after g.
func moved(g geom.Rigid, x *vec6, centre geom.Vec) geom.Rigid {
	turn := geom.RotationVector(geom.Vec{X: x[3], Y: x[4], Z: x[5]})
	turn.T = centre.Sub(turn.R.MulVec(centre)).Add(geom.Vec{X: x[0], Y: x[1], Z: x[2]})
	return turn.After(g).Orthonormal()
}

// twistOf returns the twist about a centre that a motion near the identity is.
func twistOf(g geom.Rigid, centre geom.Vec) vec6 {
	axis := geom.Vec{X: g.R[2][1] - g.R[1][2], Y: g.R[0][2] - g.R[2][0], Z: g.R[1][0] - g.R[0][1]}
	w := axis.Scale(0.5)
	if s := w.Norm(); s > 0 {
		w = w.Scale(g.Angle() / s)
	}
	t := g.Apply(centre).Sub(centre)
	return vec6{t.X, t.Y, t.Z, w.X, w.Y, w.Z}
}

// shifted returns the matrix that turns a twist about a centre into the same motion's twist
// about another: w stays, t gains w × (to − from).
func shifted(from, to geom.Vec) mat6 {
	d := to.Sub(from)
	var a mat6
	for k := range 6 {
		a[k][k] = 1
	}
	a[0][4], a[0][5] = d.Z, -d.Y
	a[1][3], a[1][5] = -d.Z, d.X
	a[2][3], a[2][4] = d.Y, -d.X
	return a
}

// row returns the derivative of n·(p moved) by the twist about a centre.
func row(p, n, centre geom.Vec) vec6 {
	m := p.Sub(centre).Cross(n)
	return vec6{n.X, n.Y, n.Z, m.X, m.Y, m.Z}
}

// levered returns the matrix with turns counted at a lever, mm: d m d with d = 1, 1, 1, s, s, s.
func levered(m *mat6, s float64) mat6 {
	out := *m
	for i := range 6 {
		for j := range 6 {
			if i >= 3 {
				out[i][j] *= s
			}
			if j >= 3 {
				out[i][j] *= s
			}
		}
	}
	return out
}

func norm3(x, y, z float64) float64 {
	return math.Sqrt(float64(x*x) + float64(y*y) + float64(z*z))
}
