package closure

import (
	"math"

	"shutline/mesh/geom"
)

// vec6 and mat6 are over the six motions: shifts along the axes in mm, turns about them through a centre in mm at a lever.
type (
	vec6 [6]float64
	mat6 [6]vec6
)

func (a *vec6) dot(b *vec6) float64 {
	s := 0.0
	for i := range 6 {
		s += float64(a[i] * b[i])
	}
	return s
}

// addOuter adds w a bᵀ.
func (m *mat6) addOuter(w float64, a, b *vec6) {
	for i := range 6 {
		wa := float64(w * a[i])
		for j := range 6 {
			m[i][j] += float64(wa * b[j])
		}
	}
}

func (m *mat6) add(o *mat6) {
	for i := range 6 {
		for j := range 6 {
			m[i][j] += o[i][j]
		}
	}
}

// between returns aᵀ m b.
func (m *mat6) between(a, b *vec6) float64 {
	s := 0.0
	for i := range 6 {
		s += float64(a[i] * m[i].dot(b))
	}
	return s
}

// eigen returns eigenvalues, ascending, and vectors of the symmetric part.
func (m *mat6) eigen() (values vec6, vectors mat6) {
	rows := make([][]float64, 6)
	for i := range rows {
		rows[i] = make([]float64, 6)
		for j := range rows[i] {
			rows[i][j] = (m[i][j] + m[j][i]) / 2
		}
	}
	l, v := geom.EigenSymmetric(rows)
	for i := range 6 {
		values[i] = l[i]
		copy(vectors[i][:], v[i])
	}
	return values, vectors
}

// tukey is the biweight (Beaton & Tukey 1974).
func tukey(r, scale float64) float64 {
	u := r / scale
	if q := 1 - float64(u*u); q > 0 {
		return float64(q * q)
	}
	return 0
}

// moved returns g, then the small motion x about the centre.
func moved(g geom.Rigid, x *vec6, centre geom.Vec, lever float64) geom.Rigid {
	turn := geom.RotationVector(geom.Vec{X: x[3], Y: x[4], Z: x[5]}.Scale(1 / lever))
	turn.T = centre.Add(geom.Vec{X: x[0], Y: x[1], Z: x[2]}).Sub(turn.ApplyDir(centre))
	return turn.After(g).Orthonormal()
}

func root(x float64) float64 { return math.Sqrt(max(x, 0)) }
