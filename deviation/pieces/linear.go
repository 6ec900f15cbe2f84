package pieces

import "math"

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
	values, vectors := eigenSymmetric(rows)
	var l vec6
	var e [6]vec6
	for i := range 6 {
		l[i] = values[i]
		copy(e[i][:], vectors[i])
	}
	return l, e
}

// sweepsMost ends the Jacobi iteration, which converges quadratically: 6 to 10 sweeps are usual.
const sweepsMost = 60

// eigenSymmetric returns eigenvalues in ascending order with their unit eigenvectors
// (vectors[i] belongs to values[i]); a is overwritten.
//
// Cyclic Jacobi rotations: Golub & Van Loan, "Matrix Computations", 8.5. Rotations that would
// change nothing within the rounding of the diagonal are left out.
func eigenSymmetric(a [][]float64) (values []float64, vectors [][]float64) {
	n := len(a)
	v := make([][]float64, n) // rows are eigenvectors in the end
	for i := range v {
		v[i] = make([]float64, n)
		v[i][i] = 1
	}
	for range sweepsMost {
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
