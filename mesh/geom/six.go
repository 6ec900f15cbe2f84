package geom

// Vec6 is a vector over the six motions: three shifts, then three turns.
type Vec6 [6]float64

// Mat6 is a full matrix over the six motions, row by row.
type Mat6 [6]Vec6

// Dot returns a·b.
func (a *Vec6) Dot(b *Vec6) float64 {
	s := 0.0
	for i := range 6 {
		s += float64(a[i] * b[i])
	}
	return s
}

// AddOuter adds w a bᵀ.
func (m *Mat6) AddOuter(w float64, a, b *Vec6) {
	for i := range 6 {
		wa := float64(w * a[i])
		for j := range 6 {
			m[i][j] += float64(wa * b[j])
		}
	}
}

// Add adds another matrix.
func (m *Mat6) Add(o *Mat6) {
	for i := range 6 {
		for j := range 6 {
			m[i][j] += o[i][j]
		}
	}
}

// Scaled returns s m.
func (m *Mat6) Scaled(s float64) Mat6 {
	var out Mat6
	for i := range 6 {
		for j := range 6 {
			out[i][j] = m[i][j] * s
		}
	}
	return out
}

// Mul returns m o.
func (m *Mat6) Mul(o *Mat6) Mat6 {
	var out Mat6
	for i := range 6 {
		for j := range 6 {
			s := 0.0
			for k := range 6 {
				s += float64(m[i][k] * o[k][j])
			}
			out[i][j] = s
		}
	}
	return out
}

// Transposed returns mᵀ.
func (m *Mat6) Transposed() Mat6 {
	var out Mat6
	for i := range 6 {
		for j := range 6 {
			out[i][j] = m[j][i]
		}
	}
	return out
}

// Carried returns a m aᵀ.
func (m *Mat6) Carried(a *Mat6) Mat6 {
	am, t := a.Mul(m), a.Transposed()
	return am.Mul(&t)
}

// Turned6 returns what turns a motion's shift and its rotation vector, or its lever arms, alike.
func Turned6(r *Mat3) Mat6 {
	var a Mat6
	for i := range 3 {
		for j := range 3 {
			a[i][j], a[i+3][j+3] = r[i][j], r[i][j]
		}
	}
	return a
}

// Times returns m v.
func (m *Mat6) Times(v *Vec6) Vec6 {
	var out Vec6
	for i := range 6 {
		out[i] = m[i].Dot(v)
	}
	return out
}

// Between returns aᵀ m b.
func (m *Mat6) Between(a, b *Vec6) float64 {
	mb := m.Times(b)
	return a.Dot(&mb)
}

// Eigen returns the eigenvalues of the symmetric part in ascending order and the unit eigenvectors
// that belong to them, one a row.
func (m *Mat6) Eigen() (values Vec6, vectors Mat6) {
	rows := make([][]float64, 6)
	for i := range rows {
		rows[i] = make([]float64, 6)
		for j := range rows[i] {
			rows[i][j] = (m[i][j] + m[j][i]) / 2
		}
	}
	l, v := EigenSymmetric(rows)
	for i := range 6 {
		values[i] = l[i]
		copy(vectors[i][:], v[i])
	}
	return values, vectors
}
