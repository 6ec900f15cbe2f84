package drift

import (
	"context"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// The field that is left beside the shapes is modelled as two parts: what each cell
// has of its own, noise and what is smaller than a cell, and what hangs together
// over a distance, the panels' own shape and drift of other forms. That is either rough, as a
// walk is, with a correlation that falls as exp(-distance/reach), or smooth, as a wave
// is, with one that falls as exp(-(distance/reach)²).
var (
	// reaches, as shares of the part's length: a few cells to beyond a panel's size.
	reaches = [...]float64{0.06, 0.12, 0.25, 0.5}
	// ratios of the variance that hangs together to that of a cell of mean size.
	ratios = [...]float64{0.03, 0.3, 1, 3, 10, 30, 100, 300, 1000, 3000, 10000}
)

// nearLikely: fits whose restricted likelihood is within 2 of the best, in units of
// twice its logarithm, are as good as it; the one with the largest uncertainty counts.
const nearLikely = 2.0

// correlated is the fit by generalised least squares.
type correlated struct {
	x          row
	covariance square // mm²
	likelihood float64
	own, shape float64 // mm, standard deviations of the two parts
	reach      float64 // mm
	patches    float64 // how many patches err on their own
	free       int     // degrees of freedom of the uncertainties
	ok         bool
}

// fitCorrelated fits the cells that were not set aside; sizes and reach of what is left
// are estimated by restricted maximum likelihood (Patterson & Thompson, Biometrika 58, 1971), which counts the
// unknowns that the fit has used up.
//
// before is what was taken out already: what is known beforehand is of the sum. Roughly is enough to look again from: with the
// likeliest of a few choices, and no uncertainties that count.
func fitCorrelated(ctx context.Context, cells []cell, inside *within, f *Frame, before *row, roughly bool, threads int) (correlated, error) {
	var used []cell
	for i := range cells {
		if !cells[i].out {
			used = append(used, cells[i])
		}
	}
	n := len(used)
	if n < leastCells {
		return correlated{}, nil
	}
	sd := f.likely()
	together, err := togetherOf(ctx, used, f, roughly, threads)
	if err != nil {
		return correlated{}, err
	}
	own, first, err := ownOf(ctx, used, inside, &together, before, &sd, threads)
	if err != nil || roughly {
		return first, err
	}
	choices := []choice{together.alone()}
	for smooth := range together.as {
		for reach := range reaches {
			for _, ratio := range ratios {
				choices = append(choices, together.choice(smooth, reach, ratio))
			}
		}
	}
	fits := make([]correlated, len(choices))
	err = parallel.Chunks(ctx, len(choices), 1, threads, nil, func(_, _, lo, hi int) {
		for c := lo; c < hi; c++ {
			fits[c] = restricted(used, inside, own, choices[c], before, &sd)
		}
	})
	if err != nil {
		return correlated{}, err
	}
	walk, wave := widestOf(fits[:1+len(fits)/2]), widestOf(append(fits[1+len(fits)/2:], fits[0]))
	out := walk
	if wave.likelihood < walk.likelihood {
		out = wave
	}
	if !out.ok {
		return out, nil
	}
	// Which of the two kinds it is decides little and is not known well: the larger uncertainty of each counts.
	for k := range Kinds {
		out.covariance[k][k] = max(walk.covariance[k][k], wave.covariance[k][k])
	}
	// A few patches of a panel's own shape, that all err as one, tell little of how large such shapes are.
	out.free = max(int(wave.patches/2), leastFree)
	return out, nil
}

// leastFree degrees of freedom are left to an uncertainty that is known worst.
const leastFree = 4

// widestOf returns the likeliest fit with the uncertainties, and the patches that tell them, of the one with the largest of those that
// are as likely.
func widestOf(fits []correlated) correlated {
	best := correlated{likelihood: math.Inf(1)}
	for _, c := range fits {
		if c.ok && c.likelihood < best.likelihood {
			best = c
		}
	}
	widest := best
	for _, c := range fits {
		if c.ok && c.likelihood <= best.likelihood+nearLikely && spreadOfShapes(&c) > spreadOfShapes(&widest) {
			widest = c
		}
	}
	best.covariance, best.patches = widest.covariance, widest.patches
	return best
}

// spreadOfShapes is the sum of the logarithms of the shapes' variances.
func spreadOfShapes(c *correlated) float64 {
	p := 1.0
	for k := range Kinds {
		p *= c.covariance[k][k]
	}
	return p
}

const euler = 2.718281828459045

// alikeShares are the shares of a mean cell's own variance that all cells have alike, as of what a panel has of its own within a cell,
// rather than of the noise of its samples.
var alikeShares = [...]float64{0, 0.1, 0.3, 1}

// ownReach are the reaches, by kind, of what may hang together beside each cell's own.
var ownReach = [2]int{1, 3}

// ownOf returns each cell's own variance as a multiple of a mean one's, and the likeliest of the fits that tell it: how much of it
// is noise is told by the restricted likelihood, with some of what may hang together beside it.
func ownOf(ctx context.Context, cells []cell, inside *within, together *together, before, sd *row, threads int) ([]float64, correlated, error) {
	var owns [len(alikeShares)][]float64
	for k, share := range alikeShares {
		owns[k] = make([]float64, len(cells))
		for i := range cells {
			owns[k][i] = float64((1-share)*cells[i].own/inside.mean) + share
		}
	}
	tried := []choice{together.alone(), together.choice(rough, ownReach[rough], 0.3), together.choice(rough, ownReach[rough], 3), together.choice(smooth, ownReach[smooth], 3), together.choice(smooth, ownReach[smooth], 100)}
	fits := make([]correlated, len(owns)*len(tried))
	err := parallel.Chunks(ctx, len(fits), 1, threads, nil, func(_, _, lo, hi int) {
		for c := lo; c < hi; c++ {
			fits[c] = restricted(cells, inside, owns[c/len(tried)], tried[c%len(tried)], before, sd)
		}
	})
	best, at := correlated{likelihood: math.Inf(1)}, 0
	for c := range fits {
		if fits[c].ok && fits[c].likelihood < best.likelihood {
			best, at = fits[c], c/len(tried)
		}
	}
	return owns[at], best, err
}

// The kinds of what hangs together.
const (
	rough = iota
	smooth
)

// together holds how cells hang together, by kind and reach: the same for every ratio, and dear.
type together struct {
	long float64 // mm, of the part
	as   [2][len(reaches)][]float64
}

// togetherOf tells it for every kind and reach, or roughly: for the two that tell each cell's own variance.
func togetherOf(ctx context.Context, cells []cell, f *Frame, roughly bool, threads int) (t together, err error) {
	t.long = f.Size[0]
	n := len(cells)
	distance := make([]float64, n*n)
	for i := range n {
		for k := range i {
			distance[i*n+k] = cells[i].at.Dist(cells[k].at)
		}
	}
	err = parallel.Chunks(ctx, 2*len(reaches), 1, threads, nil, func(_, _, lo, hi int) {
		for c := lo; c < hi; c++ {
			kind, at := c/len(reaches), c%len(reaches)
			if roughly && at != ownReach[kind] {
				continue
			}
			reach := reaches[at] * t.long
			as := make([]float64, n*n)
			for i := range n {
				for k := range i {
					d := distance[i*n+k] / reach
					if kind == smooth {
						d = float64(d * d)
					}
					as[i*n+k] = geom.Pow(euler, -d)
				}
			}
			t.as[kind][at] = as
		}
	})
	return t, err
}

// alone is the choice of nothing that hangs together.
func (t *together) alone() choice { return choice{reach: t.long} }

func (t *together) choice(kind, reach int, ratio float64) choice {
	return choice{reaches[reach] * t.long, ratio, t.as[kind][reach]}
}

// choice is a reach in mm, a ratio of variances and how cells hang together, lower triangle.
type choice struct {
	reach, ratio float64
	as           []float64
}

// over returns the covariances of the cells, the lower triangle, and how many patches err on their own.
func (c *choice) over(own []float64) (v []float64, patches float64) {
	n := len(own)
	v = make([]float64, n*n)
	trace, squares := 0.0, 0.0
	for i := range n {
		for k := range i {
			if c.ratio > 0 {
				v[i*n+k] = float64(c.ratio * c.as[i*n+k])
			}
		}
		v[i*n+i] = own[i] + c.ratio
		trace += v[i*n+i]
		for _, x := range v[i*n : i*n+i] {
			squares += 2 * float64(x*x)
		}
		squares += float64(v[i*n+i] * v[i*n+i])
	}
	return v, float64(trace*trace) / squares
}

// whiteCells returns the columns and deviations of cells so that they err by one and apart, by forward substitution with a Cholesky factor,
// and the logarithm of the covariance's determinant.
func whiteCells(cells []cell, v []float64) (white [][columns + 1]float64, logs float64) {
	n := len(cells)
	white = make([][columns + 1]float64, n)
	for i := range n {
		w := &white[i]
		copy(w[:columns], cells[i].j[:])
		w[columns] = cells[i].d
		for k := range i {
			l := v[i*n+k]
			for m := range w {
				w[m] -= float64(l * white[k][m])
			}
		}
		d := v[i*n+i]
		for m := range w {
			w[m] /= d
		}
		logs += 2 * logOf(d)
	}
	return white, logs
}

// normals are the normal equations of least squares.
type normals struct {
	a  square
	b  row
	yy float64
}

func normalsOf(white [][columns + 1]float64) (q normals) {
	for i := range white {
		j, y := row(white[i][:columns]), white[i][columns]
		addOuter(&q.a, 1, &j)
		for m := range columns {
			q.b[m] += float64(y * j[m])
		}
		q.yy += float64(y * y)
	}
	return q
}

// restricted fits by generalised least squares with one choice.
func restricted(cells []cell, inside *within, own []float64, with choice, before, sd *row) (out correlated) {
	n := len(cells)
	var v []float64
	if v, out.patches = with.over(own); !choleskyOf(v, n) {
		return out
	}
	white, logV := whiteCells(cells, v)
	q := normalsOf(white)
	trace := 0.0
	for m := range columns {
		trace += q.a[m][m]
	}
	plain := q.a
	for m := range columns {
		plain[m][m] += float64(keepsFinite * trace / float64(columns))
	}
	l, ok := factor(&plain)
	if !ok {
		return out
	}
	x := solve(&l, q.b)
	free := float64(n - columns)
	variance := (q.yy - dot(&x, &q.b)) / free
	if !(variance > leastVariance) {
		variance = leastVariance
	}
	logA := 0.0
	for m := range columns {
		logA += 2 * logOf(l[m][m])
	}
	out.likelihood = float64(free*logOf(variance)) + logV + logA
	q.informed(inside, variance, before, sd)
	if l, ok = factor(&q.a); !ok {
		return out
	}
	out.x = solve(&l, q.b)
	out.covariance = inverse(&l)
	for r := range columns {
		for c := range columns {
			out.covariance[r][c] *= variance
		}
	}
	out.own, out.shape, out.reach = math.Sqrt(variance), math.Sqrt(float64(with.ratio*variance)), with.reach
	if with.ratio == 0 {
		out.reach = 0
	}
	out.ok = true
	return out
}

// informed adds what the spots tell within the cells, and what is known beforehand.
func (q *normals) informed(inside *within, variance float64, before, sd *row) {
	if inside.variance > 0 {
		// What the spots of cells err by counts as more where cells err by more than their spots explain: they share it.
		w := variance / max(inside.variance, variance/inside.mean)
		for r := range columns {
			for c := range columns {
				q.a[r][c] += float64(w * inside.a[r][c])
			}
			q.b[r] += float64(w * inside.b[r])
		}
	}
	for m := range columns {
		p := variance / float64(sd[m]*sd[m])
		q.a[m][m] += p
		q.b[m] -= float64(p * before[m])
	}
}

// keepsFinite, of the mean column, is what is added where the surface holds nothing.
const keepsFinite = 1e-10

// leastVariance, mm², stands for a fit without any rest: a nanometre's.
const leastVariance = 1e-12

// logOf returns the natural logarithm of x > 0, the same on every processor.
func logOf(x float64) float64 {
	m, e := math.Frexp(x)
	u := (m - 1) / (m + 1) // ln m = 2 artanh u, |u| at most 1/3: 25 terms leave 1e-25
	z := float64(u * u)
	sum := 0.0
	for k := 49.0; k >= 1; k -= 2 {
		sum = 1/k + float64(sum*z)
	}
	return float64(2*float64(u*sum)) + float64(float64(e)*math.Ln2)
}
