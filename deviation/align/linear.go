package align

import (
	"math"

	"shutline/mesh/geom"
)

// vec6 and sym6 are vectors and symmetric matrices over the six motions, in the
// order tx, ty, tz, rx, ry, rz.
type (
	vec6 [6]float64
	sym6 [6][6]float64
)

// addOuter adds w j jᵀ to the upper triangle of m.
func (m *sym6) addOuter(w float64, j *vec6) {
	for r := range 6 {
		wr := w * j[r]
		for c := r; c < 6; c++ {
			m[r][c] += float64(wr * j[c])
		}
	}
}

// mirror copies the upper triangle into the lower one.
func (m *sym6) mirror() {
	for r := range 6 {
		for c := range r {
			m[r][c] = m[c][r]
		}
	}
}

func dot6(a, b *vec6) float64 {
	s := 0.0
	for i := range 6 {
		s += float64(a[i] * b[i])
	}
	return s
}

// eigen6 returns the eigenvalues of a full symmetric matrix in ascending order
// and the unit eigenvectors that belong to them.
func eigen6(m *sym6) (vec6, [6]vec6) {
	var full geom.Mat6
	for i := range 6 {
		full[i] = geom.Vec6(m[i])
	}
	l, e := full.Eigen()
	var vectors [6]vec6
	for i := range 6 {
		vectors[i] = vec6(e[i])
	}
	return vec6(l), vectors
}

// solveDamped returns x of (m + damping·tr(m)/6·1) x = b by Cholesky's method,
// m given by its upper triangle. ok is false when m holds nothing.
func solveDamped(m *sym6, b vec6, damping float64) (x vec6, ok bool) {
	trace := 0.0
	for i := range 6 {
		trace += m[i][i]
	}
	if !(trace > 0) {
		return x, false
	}
	var l sym6
	for i := range 6 {
		for j := 0; j <= i; j++ {
			s := m[j][i]
			if i == j {
				s += damping * trace / 6
			}
			for k := range j {
				s -= float64(l[i][k] * l[j][k])
			}
			if i == j {
				if !(s > 0) {
					return x, false
				}
				l[i][i] = math.Sqrt(s)
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	for i := range 6 {
		s := b[i]
		for k := range i {
			s -= float64(l[i][k] * x[k])
		}
		x[i] = s / l[i][i]
	}
	for i := 5; i >= 0; i-- {
		s := x[i]
		for k := i + 1; k < 6; k++ {
			s -= float64(l[k][i] * x[k])
		}
		x[i] = s / l[i][i]
	}
	return x, true
}
