package pieces

import "shutline/mesh/geom"

// vec6 and sym6 are vectors and full symmetric matrices over the six motions, in the order
// tx, ty, tz, rx, ry, rz.
type (
	vec6 [6]float64
	sym6 [6][6]float64
)

func dot6(a, b *vec6) float64 {
	s := 0.0
	for i := range 6 {
		s += float64(a[i] * b[i])
	}
	return s
}

// addOuter adds w j jᵀ.
func (m *sym6) addOuter(w float64, j *vec6) {
	for r := range 6 {
		wr := float64(w * j[r])
		for c := range 6 {
			m[r][c] += float64(wr * j[c])
		}
	}
}

func (m *sym6) add(o *sym6) {
	for r := range 6 {
		for c := range 6 {
			m[r][c] += o[r][c]
		}
	}
}

func (m *sym6) scaled(s float64) sym6 {
	var out sym6
	for r := range 6 {
		for c := range 6 {
			out[r][c] = m[r][c] * s
		}
	}
	return out
}

// mul6 returns a b.
func mul6(a, b *sym6) sym6 {
	var out sym6
	for r := range 6 {
		for c := range 6 {
			s := 0.0
			for k := range 6 {
				s += float64(a[r][k] * b[k][c])
			}
			out[r][c] = s
		}
	}
	return out
}

func transposed6(a *sym6) sym6 {
	var out sym6
	for r := range 6 {
		for c := range 6 {
			out[r][c] = a[c][r]
		}
	}
	return out
}

// carry returns a m aᵀ.
func (m *sym6) carry(a *sym6) sym6 {
	am := mul6(a, m)
	t := transposed6(a)
	return mul6(&am, &t)
}

func (m *sym6) times(v *vec6) vec6 {
	var out vec6
	for r := range 6 {
		row := vec6(m[r])
		out[r] = dot6(&row, v)
	}
	return out
}

// eigen returns the eigenvalues in ascending order and the unit eigenvectors that belong to them.
func (m *sym6) eigen() (vec6, [6]vec6) {
	rows := make([][]float64, 6)
	for i := range rows {
		rows[i] = append([]float64(nil), m[i][:]...)
	}
	values, vectors := geom.EigenSymmetric(rows)
	var l vec6
	var e [6]vec6
	for i := range 6 {
		l[i] = values[i]
		copy(e[i][:], vectors[i])
	}
	return l, e
}
