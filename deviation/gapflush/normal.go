package gapflush

import "math"

// maxUnknowns is the largest number of unknowns any fit here has.
const maxUnknowns = 8

type row [maxUnknowns]float64

// normalEq gathers the weighted normal equations of a small least-squares fit.
type normalEq struct {
	n int
	a [maxUnknowns]row
	b row
}

// add takes in one equation; entries of the row beyond n must be 0.
func (q *normalEq) add(r *row, y, w float64) {
	switch {
	case q.n > 4:
		q.addAll(r, y, w)
		return
	case q.n == 4:
		q.addFour(r, y, w)
		return
	}
	for i := 0; i < q.n; i++ {
		wi := w * r[i]
		if wi == 0 {
			continue
		}
		to := q.a[i][:i+1]
		for j, v := range r[:len(to)] {
			to[j] += float64(wi * v)
		}
		q.b[i] += float64(wi * y)
	}
}

// addFour is add for four unknowns, and addAll for as many as there are at most, written
// out: most of the time of a fit is spent here.
func (q *normalEq) addFour(r *row, y, w float64) {
	to, wi := &q.a[0], w*r[0]
	to[0] += float64(wi * r[0])
	q.b[0] += float64(wi * y)
	to, wi = &q.a[1], w*r[1]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	q.b[1] += float64(wi * y)
	to, wi = &q.a[2], w*r[2]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	to[2] += float64(wi * r[2])
	q.b[2] += float64(wi * y)
	to, wi = &q.a[3], w*r[3]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	to[2] += float64(wi * r[2])
	to[3] += float64(wi * r[3])
	q.b[3] += float64(wi * y)
}

func (q *normalEq) addAll(r *row, y, w float64) {
	q.addFour(r, y, w)
	to, wi := &q.a[4], w*r[4]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	to[2] += float64(wi * r[2])
	to[3] += float64(wi * r[3])
	to[4] += float64(wi * r[4])
	q.b[4] += float64(wi * y)
	to, wi = &q.a[5], w*r[5]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	to[2] += float64(wi * r[2])
	to[3] += float64(wi * r[3])
	to[4] += float64(wi * r[4])
	to[5] += float64(wi * r[5])
	q.b[5] += float64(wi * y)
	to, wi = &q.a[6], w*r[6]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	to[2] += float64(wi * r[2])
	to[3] += float64(wi * r[3])
	to[4] += float64(wi * r[4])
	to[5] += float64(wi * r[5])
	to[6] += float64(wi * r[6])
	q.b[6] += float64(wi * y)
	to, wi = &q.a[7], w*r[7]
	to[0] += float64(wi * r[0])
	to[1] += float64(wi * r[1])
	to[2] += float64(wi * r[2])
	to[3] += float64(wi * r[3])
	to[4] += float64(wi * r[4])
	to[5] += float64(wi * r[5])
	to[6] += float64(wi * r[6])
	to[7] += float64(wi * r[7])
	q.b[7] += float64(wi * y)
}

// addTwo is addAll for two equations, one after the other: their sums are read and written once.
func (q *normalEq) addTwo(r, s *row, y, z, w, v float64) {
	to, wi, vi := &q.a[0], w*r[0], v*s[0]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	q.b[0] = q.b[0] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[1], w*r[1], v*s[1]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	q.b[1] = q.b[1] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[2], w*r[2], v*s[2]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	to[2] = to[2] + float64(wi*r[2]) + float64(vi*s[2])
	q.b[2] = q.b[2] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[3], w*r[3], v*s[3]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	to[2] = to[2] + float64(wi*r[2]) + float64(vi*s[2])
	to[3] = to[3] + float64(wi*r[3]) + float64(vi*s[3])
	q.b[3] = q.b[3] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[4], w*r[4], v*s[4]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	to[2] = to[2] + float64(wi*r[2]) + float64(vi*s[2])
	to[3] = to[3] + float64(wi*r[3]) + float64(vi*s[3])
	to[4] = to[4] + float64(wi*r[4]) + float64(vi*s[4])
	q.b[4] = q.b[4] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[5], w*r[5], v*s[5]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	to[2] = to[2] + float64(wi*r[2]) + float64(vi*s[2])
	to[3] = to[3] + float64(wi*r[3]) + float64(vi*s[3])
	to[4] = to[4] + float64(wi*r[4]) + float64(vi*s[4])
	to[5] = to[5] + float64(wi*r[5]) + float64(vi*s[5])
	q.b[5] = q.b[5] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[6], w*r[6], v*s[6]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	to[2] = to[2] + float64(wi*r[2]) + float64(vi*s[2])
	to[3] = to[3] + float64(wi*r[3]) + float64(vi*s[3])
	to[4] = to[4] + float64(wi*r[4]) + float64(vi*s[4])
	to[5] = to[5] + float64(wi*r[5]) + float64(vi*s[5])
	to[6] = to[6] + float64(wi*r[6]) + float64(vi*s[6])
	q.b[6] = q.b[6] + float64(wi*y) + float64(vi*z)
	to, wi, vi = &q.a[7], w*r[7], v*s[7]
	to[0] = to[0] + float64(wi*r[0]) + float64(vi*s[0])
	to[1] = to[1] + float64(wi*r[1]) + float64(vi*s[1])
	to[2] = to[2] + float64(wi*r[2]) + float64(vi*s[2])
	to[3] = to[3] + float64(wi*r[3]) + float64(vi*s[3])
	to[4] = to[4] + float64(wi*r[4]) + float64(vi*s[4])
	to[5] = to[5] + float64(wi*r[5]) + float64(vi*s[5])
	to[6] = to[6] + float64(wi*r[6]) + float64(vi*s[6])
	to[7] = to[7] + float64(wi*r[7]) + float64(vi*s[7])
	q.b[7] = q.b[7] + float64(wi*y) + float64(vi*z)
}

// inverse returns the inverse of the matrix by Cholesky's decomposition; ok is
// false when some unknown is not held by the data.
func (q *normalEq) inverse() (inv [maxUnknowns]row, ok bool) {
	if q.n == 4 {
		ok = q.inverseOfFour(&inv)
		return inv, ok
	}
	var l, li [maxUnknowns]row
	for i := 0; i < q.n; i++ {
		for j := 0; j <= i; j++ {
			s := q.a[i][j]
			for k := 0; k < j; k++ {
				s -= float64(l[i][k] * l[j][k])
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			// Bases are scaled to about one, so a pivot that lost ten digits is rounding.
			if !(s > 1e-10*q.a[i][i]) {
				return inv, false
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	for j := 0; j < q.n; j++ {
		for i := j; i < q.n; i++ {
			s := 0.0
			if i == j {
				s = 1
			}
			for k := j; k < i; k++ {
				s -= float64(l[i][k] * li[k][j])
			}
			li[i][j] = s / l[i][i]
		}
	}
	for i := 0; i < q.n; i++ {
		for j := 0; j <= i; j++ {
			s := 0.0
			for k := i; k < q.n; k++ {
				s += float64(li[k][i] * li[k][j])
			}
			inv[i][j], inv[j][i] = s, s
		}
	}
	return inv, true
}

// inverseOfFour is inverse for four unknowns, which most fits have, written out.
func (q *normalEq) inverseOfFour(inv *[maxUnknowns]row) bool {
	const least = 1e-10 // as in inverse
	a := &q.a
	if !(a[0][0] > least*a[0][0]) {
		return false
	}
	l00 := math.Sqrt(a[0][0])
	l10, l20, l30 := a[1][0]/l00, a[2][0]/l00, a[3][0]/l00
	s := a[1][1] - float64(l10*l10)
	if !(s > least*a[1][1]) {
		return false
	}
	l11 := math.Sqrt(s)
	l21, l31 := (a[2][1]-float64(l20*l10))/l11, (a[3][1]-float64(l30*l10))/l11
	s = a[2][2] - float64(l20*l20) - float64(l21*l21)
	if !(s > least*a[2][2]) {
		return false
	}
	l22 := math.Sqrt(s)
	l32 := (a[3][2] - float64(l30*l20) - float64(l31*l21)) / l22
	s = a[3][3] - float64(l30*l30) - float64(l31*l31) - float64(l32*l32)
	if !(s > least*a[3][3]) {
		return false
	}
	l33 := math.Sqrt(s)
	m00, m11, m22, m33 := 1/l00, 1/l11, 1/l22, 1/l33
	m10 := (0 - float64(l10*m00)) / l11
	m20 := (0 - float64(l20*m00) - float64(l21*m10)) / l22
	m30 := (0 - float64(l30*m00) - float64(l31*m10) - float64(l32*m20)) / l33
	m21 := (0 - float64(l21*m11)) / l22
	m31 := (0 - float64(l31*m11) - float64(l32*m21)) / l33
	m32 := (0 - float64(l32*m22)) / l33
	inv[0][0] = float64(m00*m00) + float64(m10*m10) + float64(m20*m20) + float64(m30*m30)
	inv[1][0] = float64(m11*m10) + float64(m21*m20) + float64(m31*m30)
	inv[1][1] = float64(m11*m11) + float64(m21*m21) + float64(m31*m31)
	inv[2][0] = float64(m22*m20) + float64(m32*m30)
	inv[2][1] = float64(m22*m21) + float64(m32*m31)
	inv[2][2] = float64(m22*m22) + float64(m32*m32)
	inv[3][0] = float64(m33 * m30)
	inv[3][1] = float64(m33 * m31)
	inv[3][2] = float64(m33 * m32)
	inv[3][3] = float64(m33 * m33)
	inv[0][1], inv[0][2], inv[0][3] = inv[1][0], inv[2][0], inv[3][0]
	inv[1][2], inv[1][3], inv[2][3] = inv[2][1], inv[3][1], inv[3][2]
	return true
}

// apply returns the product of the inverse and the right-hand side.
func (q *normalEq) apply(inv *[maxUnknowns]row) row {
	var x row
	for i := 0; i < q.n; i++ {
		for j := 0; j < q.n; j++ {
			x[i] += float64(inv[i][j] * q.b[j])
		}
	}
	return x
}

// tukey is the biweight of Beaton and Tukey (1974); c = 4.685 is 95 % efficient
// on normal noise.
func tukey(e, sigma float64) float64 {
	const c = 4.685
	t := e / (c * sigma)
	if t >= 1 || t <= -1 {
		return 0
	}
	v := 1 - float64(t*t)
	return float64(v * v)
}
