package geom

import "math"

// sweepsMax ends the Jacobi iteration; small matrices settle within 6 to 10
// sweeps since the convergence is quadratic.
const sweepsMax = 40

// EigenSymmetric returns the eigenvalues of a symmetric matrix in ascending order with their unit
// eigenvectors (vectors[i] belongs to values[i]); a is overwritten.
//
// Cyclic Jacobi rotations: Golub & Van Loan, "Matrix Computations", 8.5. Small,
// accurate for tiny eigenvalues, and the same operations on every processor.
func EigenSymmetric(a [][]float64) (values []float64, vectors [][]float64) {
	n := len(a)
	v := make([][]float64, n) // rows are eigenvectors in the end
	for i := range v {
		v[i] = make([]float64, n)
		v[i][i] = 1
	}
	for range sweepsMax {
		off := 0.0
		for p := range n {
			for q := p + 1; q < n; q++ {
				off += math.Abs(a[p][q])
			}
		}
		if off == 0 {
			break
		}
		for p := range n {
			for q := p + 1; q < n; q++ {
				jacobiRotate(a, v, p, q)
			}
		}
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
		for j := i; j > 0 && a[order[j]][order[j]] < a[order[j-1]][order[j-1]]; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	for _, i := range order {
		values = append(values, a[i][i])
		vectors = append(vectors, v[i])
	}
	return values, vectors
}

func jacobiRotate(a, v [][]float64, p, q int) {
	if a[p][q] == 0 {
		return
	}
	theta := (a[q][q] - a[p][p]) / (2 * a[p][q])
	t := 1 / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
	if theta < 0 {
		t = -t
	}
	c := 1 / math.Sqrt(float64(t*t)+1)
	s := t * c
	apq := a[p][q]
	a[p][p] -= float64(t * apq)
	a[q][q] += float64(t * apq)
	a[p][q], a[q][p] = 0, 0
	for k := range a {
		if k != p && k != q {
			akp, akq := a[k][p], a[k][q]
			a[k][p] = float64(c*akp) - float64(s*akq)
			a[k][q] = float64(s*akp) + float64(c*akq)
			a[p][k], a[q][k] = a[k][p], a[k][q]
		}
		vp, vq := v[p][k], v[q][k]
		v[p][k] = float64(c*vp) - float64(s*vq)
		v[q][k] = float64(s*vp) + float64(c*vq)
	}
}

// Eigen3 is EigenSymmetric for a matrix of three rows; the axes are right-handed.
func Eigen3(m Mat3) (values [3]float64, axes [3]Vec) {
	l, v := EigenSymmetric([][]float64{m[0][:], m[1][:], m[2][:]})
	for i := range axes {
		values[i], axes[i] = l[i], Vec{v[i][0], v[i][1], v[i][2]}
	}
	if axes[0].Cross(axes[1]).Dot(axes[2]) < 0 {
		axes[2] = axes[2].Neg()
	}
	return values, axes
}
