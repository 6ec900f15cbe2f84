package length

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

// Forms are fitted geometrically, to the distances square to them: an algebraic
// fit reads circles and spheres too small on short arcs (Gander, Golub & Strebel,
// BIT 34, 1994). Points far off, of another surface, do not count (Tukey's biweight).
const (
	tukeyTuning  = 4.685
	normalMedian = 0.6744897501960817
	fitSteps     = 60
	leastPoints  = 12
	// Points err together over 4 to 8 mm, as scanners were measured to: their correlation is looked at in
	// rings of a lagStep up to lagMost, both mm, about some anchors, out to the ring where it is under leastShared.
	lagStep     = 1.5
	lagMost     = 18.0
	leastShared = 0.05
	anchors     = 400
	// sharedOver in mm: noise may be shared over as much; how densely points lie is told by the first sharedRings.
	sharedOver  = 8.0
	sharedRings = 2
	// twoSigma is the share of a normal distribution within the k = 2 of U.
	twoSigma = 0.9545
	// mostTaken is the largest share of a patch's scatter that a fit is taken to have used up.
	mostTaken = 0.5
)

// problem is a geometric fit: of each point the distance from the form, and how it changes with
// each parameter. move changes the form.
type problem struct {
	points   []geom.Vec
	params   int
	residual func(p geom.Vec, row []float64) float64
	move     func(step []float64)
	// summit: the form is a stretch about a body's extreme, so small that what patches of it may share is never seen: its points' own
	// correlation counts alone.
	summit bool
}

// solved is what a fit came to.
type solved struct {
	inverse   [][]float64 // of the normal matrix: times sigma² the covariance of the parameters
	sigma2    float64     // mm², with what points share
	rms, form float64
	used      int
	ok        bool
}

// solve fits by Gauss-Newton.
func (q *problem) solve() (out solved) {
	n := len(q.points)
	if n < max(leastPoints, q.params+3) {
		return out
	}
	r, w := make([]float64, n), make([]float64, n)
	row := make([]float64, q.params)
	off := make([]float64, n)
	for step := range fitSteps {
		for i, p := range q.points {
			r[i] = q.residual(p, row)
			off[i] = math.Abs(r[i])
		}
		slices.Sort(off)
		cut := max(tukeyTuning*off[n/2]/normalMedian, 1e-9)
		a := make([][]float64, q.params)
		b := make([]float64, q.params)
		for k := range a {
			a[k] = make([]float64, q.params)
		}
		out.used = 0
		sum, sumW, lo, hi := 0.0, 0.0, math.Inf(1), math.Inf(-1)
		for i, p := range q.points {
			q.residual(p, row)
			w[i] = 1
			if step > 2 {
				w[i] = biweight(r[i] / cut)
			}
			if w[i] == 0 {
				continue
			}
			out.used++
			sum += float64(w[i] * float64(r[i]*r[i]))
			sumW += w[i]
			lo, hi = min(lo, r[i]), max(hi, r[i])
			for k := range a {
				wk := float64(w[i] * row[k])
				b[k] -= float64(wk * r[i])
				for l := range a {
					a[k][l] += float64(wk * row[l])
				}
			}
		}
		inv, ok := inverted(a)
		if !ok || out.used <= q.params {
			return solved{}
		}
		x := make([]float64, q.params)
		size := 0.0
		for k := range x {
			for l := range x {
				x[k] += float64(inv[k][l] * b[l])
			}
			size = max(size, math.Abs(x[k]))
		}
		q.move(x)
		out.inverse, out.rms, out.form = inv, math.Sqrt(sum/sumW), hi-lo
		if step > 4 && size < 1e-9 {
			break
		}
	}
	out.sigma2 = q.shared(r, w, out.used)
	out.ok = true
	return out
}

func biweight(u float64) float64 {
	v := max(1-float64(u*u), 0)
	return float64(v * v)
}

// shared returns the variance of one point, times how many points err as one: one, and as many as lie around it,
// each by its correlation; where few err on their own it is as much more as two standard deviations of it need to be U.
func (q *problem) shared(r, w []float64, used int) float64 {
	const rings = int(lagMost / lagStep)
	var product, count [rings]float64
	alone := 0.0
	for i := range r {
		if w[i] > 0 {
			alone += float64(r[i] * r[i])
		}
	}
	variance := alone / float64(used-q.params)
	if !(variance > 0) {
		return 0
	}
	for i := 0; i < len(r); i += len(r)/anchors + 1 {
		if w[i] == 0 {
			continue
		}
		for k, p := range q.points {
			if k == i || w[k] == 0 {
				continue
			}
			if ring := int(p.Dist(q.points[i]) / lagStep); ring < rings {
				product[ring] += float64(r[i] * r[k])
				count[ring]++
			}
		}
	}
	looked := float64((len(r)-1)/(len(r)/anchors+1) + 1)
	// A fit takes as much of what hangs together with it as its parameters are of the patches that err on their
	// own: both the scatter and the correlation come out too small by that share, which is given back.
	factor, taken := 1.0, 0.0
	for range 3 {
		factor = 1
		for k := range rings {
			if count[k] == 0 {
				continue
			}
			shared := product[k] / count[k] / variance
			shared += float64((1 - shared) * taken)
			if shared < leastShared+taken {
				break
			}
			factor += float64(shared*count[k]) / looked
		}
		taken = min(float64(float64(q.params)*factor)/float64(used), mostTaken)
	}
	// From few patches that may err on their own the scatter is known badly, and errs low (Student's t; JCGM 100:2008, G.6.4).
	// On a form of few such patches it is not seen either whether its points err together.
	near := 0.0
	for k := range sharedRings {
		near += count[k]
	}
	around := near/looked + 1
	patches := float64(used) / factor
	if !q.summit {
		const within = sharedRings * lagStep
		patches = min(patches, float64(used)/around*math.Pi*within*within/(sharedOver*sharedOver))
	}
	few := Coverage(twoSigma, max(int(patches)-q.params, 1)) / 2
	factor /= float64((1 - taken) * (1 - taken))
	return variance * factor * few * few
}

// formOf is the probing error of form: the greatest less the smallest deviation.
func formOf(residuals []float64) float64 {
	if len(residuals) == 0 {
		return 0
	}
	return slices.Max(residuals) - slices.Min(residuals)
}

// inverted returns the inverse of a symmetric positive definite matrix; ok is false for another.
func inverted(a [][]float64) ([][]float64, bool) {
	n := len(a)
	l := make([][]float64, n)
	for i := range n {
		l[i] = make([]float64, n)
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := range j {
				s -= float64(l[i][k] * l[j][k])
			}
			switch {
			case i != j:
				l[i][j] = s / l[j][j]
			case s > 1e-12*a[i][i]:
				l[i][i] = math.Sqrt(s)
			default:
				return nil, false
			}
		}
	}
	inv := make([][]float64, n)
	for i := range inv {
		inv[i] = make([]float64, n)
	}
	x := make([]float64, n)
	for c := range n {
		for i := range n {
			x[i] = 0
			if i == c {
				x[i] = 1
			}
			for k := range i {
				x[i] -= float64(l[i][k] * x[k])
			}
			x[i] /= l[i][i]
		}
		for i := n - 1; i >= 0; i-- {
			for k := i + 1; k < n; k++ {
				x[i] -= float64(l[k][i] * x[k])
			}
			x[i] /= l[i][i]
			inv[i][c] = x[i]
		}
	}
	return inv, true
}

// across returns two unit directions square to a unit direction and to each other.
func across(n geom.Vec) (u, v geom.Vec) {
	u = geom.Vec{X: 1}
	if math.Abs(n.X) > 0.7 {
		u = geom.Vec{Y: 1}
	}
	u = u.AddScaled(-u.Dot(n), n).Unit()
	return u, n.Cross(u)
}

// outer adds s a bᵀ to a matrix.
func outer(m *[3][3]float64, s float64, a, b geom.Vec) {
	for i := range 3 {
		for j := range 3 {
			m[i][j] += float64(s * float64(a.At(i)*b.At(j)))
		}
	}
}
