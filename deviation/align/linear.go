package align

import "math"

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
	rows := make([][]float64, 6)
	for i := range rows {
		rows[i] = append([]float64(nil), m[i][:]...)
	}
	values, vectors := eigenSymmetric(rows)
	var l vec6
	var e [6]vec6
	for i := range 6 {
		l[i] = values[i]
		copy(e[i][:], vectors[i])
	}
	return l, e
}

// sweepsMax ends the Jacobi iteration; small matrices settle within 6 to 10
// sweeps since the convergence is quadratic.
const sweepsMax = 40

// eigenSymmetric returns eigenvalues in ascending order with their unit
// eigenvectors (vectors[i] belongs to values[i]); a is overwritten.
//
// Cyclic Jacobi rotations: Golub & Van Loan, "Matrix Computations", 8.5. Small,
// accurate for tiny eigenvalues, and the same operations on every processor.
func eigenSymmetric(a [][]float64) (values []float64, vectors [][]float64) {
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
