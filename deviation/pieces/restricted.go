package pieces

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

// components are the variances of observations y = A x + error, cov(error) = Σ theta k, and what follows from them: restricted maximum
// likelihood, which counts the unknowns that the fit has used up, by iterated minimum norm quadratic estimation (Rao 1971; Harville 1977;
// it is Paule & Mandel's and DerSimonian & Laird's variance between groups, where there is one and the groups are alike).
type components struct {
	theta       []float64
	information [][]float64 // of theta, by what their quadratic forms scatter; twice its inverse is their covariance
	covariance  [][]float64 // of x: the inverse of Aᵀ V⁻¹ A over what is held
	gain        [][]float64 // x = gain y
	loose       [][]float64 // unit vectors that are not held

	projected [][]float64 // P = V⁻¹ − V⁻¹ A gain
}

const (
	componentSteps   = 40
	componentsRested = 1e-3
)

// weighed returns what follows from the components given; least is the information below which a direction of x is not held. ok is false
// where they make no covariance.
func weighed(a [][]float64, k [][][]float64, theta []float64, least float64) (c components, ok bool) {
	m := len(a)
	v := newMatrix(m, m)
	for d := range k {
		for i := range v {
			for j := range v {
				v[i][j] += float64(theta[d] * k[d][i][j])
			}
		}
	}
	c.theta = theta
	if c.projected, ok = inverseOf(v); !ok {
		return c, false
	}
	wa := product(c.projected, a)
	normal := product(transposed(a), wa)
	n := len(normal)
	values, vectors := geom.EigenSymmetric(normal)
	c.covariance = newMatrix(n, n)
	for e, u := range vectors {
		if !(values[e] > least) {
			c.loose = append(c.loose, u)
			continue
		}
		for i := range n {
			for j := range n {
				c.covariance[i][j] += float64(u[i] / values[e] * u[j])
			}
		}
	}
	c.gain = product(c.covariance, transposed(wa))
	away := product(wa, c.gain)
	for i := range m {
		for j := range m {
			c.projected[i][j] -= away[i][j]
		}
	}
	return c, true
}

// componentsOf estimates the components from a start; none becomes less than floor.
func componentsOf(a [][]float64, y []float64, k [][][]float64, start, floor []float64, least float64) (components, bool) {
	theta := slices.Clone(start)
	for step := 0; ; step++ {
		c, ok := weighed(a, k, theta, least)
		if !ok {
			return c, false
		}
		py := times(c.projected, y)
		right := make([]float64, len(k))
		pk := make([][][]float64, len(k))
		c.information = newMatrix(len(k), len(k))
		for d := range k {
			pk[d] = product(c.projected, k[d])
			kpy := times(k[d], py)
			for i := range py {
				right[d] += float64(py[i] * kpy[i])
			}
			for e := range d + 1 {
				t := traceOf(pk[d], pk[e])
				c.information[d][e], c.information[e][d] = t, t
			}
		}
		next := above(c.information, right, floor)
		change := 0.0
		for d := range next {
			change = max(change, math.Abs(next[d]-theta[d])-float64(componentsRested*theta[d]))
		}
		theta = next
		if change <= 0 || step == componentSteps {
			return c, true
		}
	}
}

// above solves f x = right; an unknown that comes out below its floor stays there, the one that is farthest below first, and the others are
// solved for beside it.
func above(f [][]float64, right, floor []float64) []float64 {
	n := len(right)
	at := make([]bool, n)
	for {
		var rows []int
		for i := range n {
			if !at[i] {
				rows = append(rows, i)
			}
		}
		x := slices.Clone(floor)
		if len(rows) == 0 {
			return x
		}
		m, b := newMatrix(len(rows), len(rows)), make([]float64, len(rows))
		for i, r := range rows {
			b[i] = right[r]
			for q := range n {
				if at[q] {
					b[i] -= float64(f[r][q] * floor[q])
				}
			}
			for j, q := range rows {
				m[i][j] = f[r][q]
			}
			m[i][i] += float64(1e-9 * f[r][r])
		}
		worst, least := -1, 0.0
		inverse, ok := inverseOf(m)
		if ok {
			for i, v := range times(inverse, b) {
				r := rows[i]
				x[r] = v
				if below := (v - floor[r]) * math.Sqrt(f[r][r]); below < least {
					worst, least = r, below
				}
			}
		} else {
			worst = rows[len(rows)-1]
		}
		if worst < 0 {
			return x
		}
		at[worst] = true
	}
}

func newMatrix(n, m int) [][]float64 {
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, m)
	}
	return a
}

func transposed(a [][]float64) [][]float64 {
	if len(a) == 0 {
		return nil
	}
	t := newMatrix(len(a[0]), len(a))
	for i := range a {
		for j, v := range a[i] {
			t[j][i] = v
		}
	}
	return t
}

func product(a, b [][]float64) [][]float64 {
	if len(b) == 0 {
		return newMatrix(len(a), 0)
	}
	out := newMatrix(len(a), len(b[0]))
	for i := range a {
		for k, v := range a[i] {
			if v == 0 {
				continue
			}
			for j, w := range b[k] {
				out[i][j] += float64(v * w)
			}
		}
	}
	return out
}

func times(a [][]float64, x []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		for k, v := range a[i] {
			out[i] += float64(v * x[k])
		}
	}
	return out
}

// traceOf returns that of a b.
func traceOf(a, b [][]float64) float64 {
	sum := 0.0
	for i := range a {
		for k, v := range a[i] {
			sum += float64(v * b[k][i])
		}
	}
	return sum
}

// inverseOf returns the inverse of a symmetric positive matrix, which is overwritten, by Cholesky's factors.
func inverseOf(a [][]float64) ([][]float64, bool) {
	n := len(a)
	for i := range n {
		for j := range i + 1 {
			s := a[i][j]
			for k := range j {
				s -= float64(a[i][k] * a[j][k])
			}
			if i > j {
				a[i][j] = s / a[j][j]
				continue
			}
			if !(s > 0) {
				return nil, false
			}
			a[i][i] = math.Sqrt(s)
		}
	}
	l := newMatrix(n, n) // the inverse of the factor
	for c := range n {
		for i := c; i < n; i++ {
			s := 0.0
			if i == c {
				s = 1
			}
			for k := c; k < i; k++ {
				s -= float64(a[i][k] * l[k][c])
			}
			l[i][c] = s / a[i][i]
		}
	}
	out := newMatrix(n, n)
	for i := range n {
		for j := range i + 1 {
			s := 0.0
			for k := i; k < n; k++ {
				s += float64(l[k][i] * l[k][j])
			}
			out[i][j], out[j][i] = s, s
		}
	}
	return out, true
}
