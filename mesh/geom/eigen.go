package geom

import "math"

// sweepsMax ends the Jacobi iteration, which converges quadratically: 6 to 10 sweeps are usual.
const sweepsMax = 60

// EigenSymmetric returns the eigenvalues of a symmetric matrix in ascending order with their unit
// eigenvectors (vectors[i] belongs to values[i]); a is overwritten.
//
// Cyclic Jacobi rotations: Golub & Van Loan, "Matrix Computations", 8.5. Rotations that would
// change nothing within the rounding of the diagonal are left out.
func EigenSymmetric(a [][]float64) (values []float64, vectors [][]float64) {
	n := len(a)
	v := make([][]float64, n) // rows are eigenvectors in the end
	for i := range v {
		v[i] = make([]float64, n)
		v[i][i] = 1
	}
	for range sweepsMax {
		turned := false
		for p := range n {
			for q := p + 1; q < n; q++ {
				turned = jacobiTurn(a, v, p, q) || turned
			}
		}
		if !turned {
			break
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

// jacobiTurn takes the element p, q away, and reports whether there was anything to take.
func jacobiTurn(a, v [][]float64, p, q int) bool {
	apq := a[p][q]
	if app, aqq := math.Abs(a[p][p]), math.Abs(a[q][q]); apq == 0 || app+math.Abs(apq) == app && aqq+math.Abs(apq) == aqq {
		return false
	}
	theta := (a[q][q] - a[p][p]) / (2 * apq)
	t := 1 / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
	if theta < 0 {
		t = -t
	}
	c := 1 / math.Sqrt(float64(t*t)+1)
	s := t * c
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
	}
	vp, vq := v[p], v[q]
	for k := range vp {
		x, y := vp[k], vq[k]
		vp[k] = float64(c*x) - float64(s*y)
		vq[k] = float64(s*x) + float64(c*y)
	}
	return true
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
