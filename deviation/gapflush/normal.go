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
	to, wi = &q.a[4], w*r[4]
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
