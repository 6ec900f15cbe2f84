package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// positive is a symmetric positive matrix, of which the lower triangle is used; factor makes Cholesky's factor of it.
type positive struct{ a [][]float64 }

func newPositive(n int) *positive {
	c := &positive{a: make([][]float64, n)}
	for i := range c.a {
		c.a[i] = make([]float64, i+1)
	}
	return c
}

// factor returns the logarithm of the determinant; ok is false where the matrix is not positive.
func (c *positive) factor() (det float64, ok bool) {
	for i, row := range c.a {
		for k := range i {
			row[k] = (row[k] - inner(row[:k], c.a[k])) / c.a[k][k]
		}
		v := row[i] - inner(row[:i], row)
		if !(v > 0) {
			return 0, false
		}
		row[i] = math.Sqrt(v)
		det += geom.Log(v)
	}
	return det, true
}

// solve sets x to the solution for b; a holds the factor.
func (c *positive) solve(b, x []float64) {
	for i, row := range c.a {
		x[i] = (b[i] - inner(row[:i], x)) / row[i]
	}
	for i := len(x) - 1; i >= 0; i-- {
		v := x[i]
		for k := i + 1; k < len(x); k++ {
			v -= float64(c.a[k][i] * x[k])
		}
		x[i] = v / c.a[i][i]
	}
}

// inner is the inner product of a with as many of b.
func inner(a, b []float64) (sum float64) {
	for i, v := range a {
		sum += float64(v * b[i])
	}
	return sum
}
