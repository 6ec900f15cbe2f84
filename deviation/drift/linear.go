package drift

import "math"

// square is a symmetric matrix over the unknowns, its lower triangle used.
type square = [columns][columns]float64

// factor returns the Cholesky factor of a over the unknowns; ok is false where a
// is not positive definite.
func factor(a *square) (l square, ok bool) {
	for i := range columns {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := range j {
				s -= float64(l[i][k] * l[j][k])
			}
			if i == j {
				if !(s > 0) {
					return l, false
				}
				l[i][i] = math.Sqrt(s)
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	return l, true
}

// solve returns x of l lᵀ x = b.
func solve(l *square, b row) row {
	for i := range columns {
		for k := range i {
			b[i] -= float64(l[i][k] * b[k])
		}
		b[i] /= l[i][i]
	}
	for i := columns - 1; i >= 0; i-- {
		for k := i + 1; k < columns; k++ {
			b[i] -= float64(l[k][i] * b[k])
		}
		b[i] /= l[i][i]
	}
	return b
}

// inverse returns the inverse of l lᵀ.
func inverse(l *square) (out square) {
	for c := range columns {
		var e row
		e[c] = 1
		x := solve(l, e)
		for r := range columns {
			out[r][c] = x[r]
		}
	}
	return out
}

func dot(a, b *row) float64 {
	s := 0.0
	for i := range columns {
		s += float64(a[i] * b[i])
	}
	return s
}

// addOuter adds w j jᵀ to the lower triangle.
func addOuter(m *square, w float64, j *row) {
	for r := range columns {
		wr := float64(w * j[r])
		for c := 0; c <= r; c++ {
			m[r][c] += float64(wr * j[c])
		}
	}
}

// choleskyOf factors a symmetric matrix of n rows in place, row by row, its lower
// triangle used; ok is false where it is not positive definite.
func choleskyOf(a []float64, n int) bool {
	for i := range n {
		ri := a[i*n : i*n+i+1]
		for j := range i {
			rj := a[j*n : j*n+j+1]
			// Four sums at once: a fixed order that keeps the processor busy.
			var s0, s1, s2, s3 float64
			k := 0
			for ; k+4 <= j; k += 4 {
				s0 += float64(ri[k] * rj[k])
				s1 += float64(ri[k+1] * rj[k+1])
				s2 += float64(ri[k+2] * rj[k+2])
				s3 += float64(ri[k+3] * rj[k+3])
			}
			for ; k < j; k++ {
				s0 += float64(ri[k] * rj[k])
			}
			ri[j] = (ri[j] - ((s0 + s1) + (s2 + s3))) / rj[j]
		}
		s := ri[i]
		for _, v := range ri[:i] {
			s -= float64(v * v)
		}
		if !(s > 0) {
			return false
		}
		ri[i] = math.Sqrt(s)
	}
	return true
}
