package gapflush

import "math"

// faceRoom is memory that fits of faces use again.
type faceRoom struct {
	in           []zonePoint
	rows         []row
	abs, weights []float64
	flat, cubes  []float64
}

// room returns kept without entries, made to hold n.
func room[T any](kept *[]T, n int) []T {
	if cap(*kept) < n {
		*kept = make([]T, 0, n+n/4)
	}
	return (*kept)[:0]
}

const faceRounds = 8

// settledFace is a change of all coefficients together, mm, that moves nothing a micrometre is asked of.
const settledFace = 1e-4

// solve fits a face with a course of an order along the seam, robustly: h0, m, b, g, on a narrow
// band skew, and with free its curvature, else taken from f.c. ok is false where the points do not hold all of these.
func (f *face) solve(scratch *faceRoom, in []zonePoint, order int, noise, band float64, free bool, near *face) bool {
	const skewFrom = 2 // rounds, until there is a course to be skewed
	skewed := band <= narrow && order == 4 && !free
	if !free {
		f.skew = 0
	}
	un := 3 + order
	if free {
		un++
	}
	sigma, cold := 0.25, 1
	if near != nil && near.sigma > 0 && !skewed {
		sigma, cold = near.sigma, 0
	}
	abs := room(&scratch.abs, len(in))
	rows, flat, cubes := f.rowsOf(scratch, in, order, free, un)
	weights := room(&scratch.weights, len(in))[:len(rows)]
	cut := faceCut
	if free {
		cut = 4.685 // as in tukey: how points scatter is told from these, too
	}
	var beta row
	settled := false
	for round := range faceRounds {
		if skewed && round == skewFrom {
			un++
		}
		if skewed && round >= skewFrom {
			f.skewRows(rows, in, order, un)
		}
		abs = abs[:0]
		switch {
		case round < cold:
			for i := range weights {
				weights[i] = 1
			}
		case round == 0:
			for i := range in {
				e := in[i].h - near.at(in[i].x, in[i].y)
				weights[i] = tukey(e, sigma)
				abs = append(abs, math.Abs(e))
			}
		default:
			abs = weigh(rows, flat, cubes, f.bow, &beta, cut, sigma, weights, abs)
		}
		q := normalEq{n: un}
		f.n = q.addFaces(rows, flat, cubes, f.bow, weights)
		inv, ok := q.inverse()
		if !ok || f.n < un+6 {
			return false
		}
		last := beta
		beta = q.apply(&inv)
		change := 0.0
		for k := range beta {
			change += math.Abs(beta[k] - last[k])
		}
		// Once hardly anything moves the scatter stays as it is, too.
		if round >= cold && !settled {
			sigma = max(robustSigmaNear(abs, un, sigma), leastNoise)
			settled = round > cold && change < 10*settledFace
		}
		v := max(sigma, noise, leastFace)
		v *= v
		if skewed && round >= skewFrom {
			f.skew += min(max(beta[un-1], -0.1), 0.1)
			beta[un-1] = 0
		}
		f.sigma = sigma
		f.take(&beta, &inv, v, order, un, free)
		if last := round > cold && change < settledFace; last || round == faceRounds-1 {
			if order == 4 && !free && !skewed {
				f.plain(&q, &inv, &beta, v, &un)
			}
			f.withCurvature(rows, weights, &inv, un)
			break
		}
	}
	return true
}

// skewRows are the rows of a face of so many unknowns whose course is skewed, the last of which is that.
func (f *face) skewRows(rows []row, in []zonePoint, order, un int) {
	for i := range in {
		rows[i] = f.rowOf(&in[i], order, false, un)
		// Less than its whole step: the course may have a corner.
		rows[i][un-1] = float64(rows[i][1] * f.rise(rows[i][3]))
	}
}

// rowsOf returns the equations' rows of points, their heights with what is known of the face's curvature taken out, and what a bow is of them.
func (f *face) rowsOf(scratch *faceRoom, in []zonePoint, order int, free bool, un int) (rows []row, flat, cubes []float64) {
	rows, flat, cubes = room(&scratch.rows, len(in)), room(&scratch.flat, len(in)), room(&scratch.cubes, len(in))
	for i := range in {
		rows = append(rows, f.rowOf(&in[i], order, free, un))
		r := &rows[i]
		h := in[i].h
		if !free {
			h += float64(f.c * sagOf(r))
		}
		flat, cubes = append(flat, h), append(cubes, cubeOf(r))
	}
	return rows, flat, cubes
}

// take makes a solution beta of so many unknowns the face's, with the inverse of their equations and the variance v of a point.
func (f *face) take(beta *row, inv *[maxUnknowns]row, v float64, order, un int, free bool) {
	f.h0, f.m, f.b = beta[0], beta[1]/acrossScale, beta[2]
	f.cov = covOf(inv, v)
	f.g = [4]float64{}
	copy(f.g[:], beta[3:3+order])
	if order == 4 {
		f.sharpness = 0
		off := math.Abs(f.g[2]) + math.Abs(f.g[3])
		if off > sharpest && off > 4*math.Sqrt(v*(inv[5][5]+inv[6][6])) {
			f.sharpness = off
		}
	}
	c := f.c
	if free {
		c = -2 * beta[un-1] / (acrossScale * acrossScale)
		f.quad = c
		f.quadU = 2 * math.Sqrt(v*inv[un-1][un-1]) / (acrossScale * acrossScale)
	}
	f.bow = bowOf(f.m, c)
}

// covOf is the covariance of a face's height and slope.
func covOf(inv *[maxUnknowns]row, v float64) [2][2]float64 {
	across := v * inv[0][1] / acrossScale
	return [2][2]float64{{v * inv[0][0], across}, {across, v * inv[1][1] / acrossScale / acrossScale}}
}

// plainCourse is the chi-squared of two degrees of freedom that chance exceeds once in twenty.
const plainCourse = 5.99

// plain takes from a face's course what is no parabola, where its points do not tell that from noise of variance v: the
// height in the middle of a band is known to a third less of a variance by a parabola than by a polynomial of the fourth order.
func (f *face) plain(q *normalEq, inv *[maxUnknowns]row, beta *row, v float64, un *int) {
	a, b, c := inv[5][5], inv[5][6], inv[6][6]
	det := float64(a*c) - float64(b*b)
	x, y := beta[5], beta[6]
	if !(det > 0) || (float64(c*x*x)-float64(2*b*x*y)+float64(a*y*y))/det > plainCourse*v {
		return
	}
	less := *q
	less.n = 5
	i, ok := less.inverse()
	if !ok {
		return
	}
	*inv, *un = i, 5
	*beta = less.apply(inv)
	f.h0, f.m, f.b = beta[0], beta[1]/acrossScale, beta[2]
	f.cov = covOf(&i, v)
	f.g = [4]float64{beta[3], beta[4]}
	f.bow = bowOf(f.m, f.c)
}

// faceCut is the biweight's constant for faces: 98 % efficient on normal noise.
const faceCut = 6.0

// weigh returns the weights of rows whose heights, the sag of a known curvature taken out, are flat, and appends the
// absolute values of what a fit leaves of them to abs.
func weigh(rows []row, flat, cubes []float64, bow float64, beta *row, cut, sigma float64, weights, abs []float64) []float64 {
	inv := 1 / (cut * sigma)
	flat, cubes, weights = flat[:len(rows)], cubes[:len(rows)], weights[:len(rows)]
	for i := range rows {
		r := &rows[i]
		e := flat[i] - float64(bow*cubes[i]) - float64(beta[0]*r[0]) - float64(beta[1]*r[1]) - float64(beta[2]*r[2]) - float64(beta[3]*r[3]) -
			float64(beta[4]*r[4]) - float64(beta[5]*r[5]) - float64(beta[6]*r[6]) - float64(beta[7]*r[7])
		e = math.Abs(e)
		abs = append(abs, e)
		t := e * inv
		v := 1 - float64(t*t)
		if v < 0 {
			v = 0
		}
		weights[i] = v * v
	}
	return abs
}

// addFaces adds the rows of a face by their weights and returns how many have one.
func (q *normalEq) addFaces(rows []row, flat, cubes []float64, bow float64, weights []float64) (n int) {
	flat, cubes, weights = flat[:len(rows)], cubes[:len(rows)], weights[:len(rows)]
	waiting := -1
	for i := range rows {
		if weights[i] <= 0 {
			continue
		}
		n++
		switch y := flat[i] - float64(bow*cubes[i]); {
		case q.n <= 4:
			q.add(&rows[i], y, weights[i])
		case waiting < 0:
			waiting = i
		default:
			k := waiting
			q.addTwo(&rows[k], &rows[i], flat[k]-float64(bow*cubes[k]), y, weights[k], weights[i])
			waiting = -1
		}
	}
	if k := waiting; k >= 0 {
		q.add(&rows[k], flat[k]-float64(bow*cubes[k]), weights[k])
	}
	return n
}

// rowOf returns a point's row in the fit: 1, d, d t, the powers of t and, of a free fit, d².
func (f *face) rowOf(p *zonePoint, order int, free bool, un int) row {
	d, t := (p.y-f.y0)/acrossScale, float64(p.x/alongScale)
	r := row{1, d, d * t}
	t += float64(f.skew * d)
	for k, v := 0, t; k < order; k, v = k+1, v*t {
		r[3+k] = v
	}
	if free {
		r[un-1] = d * d
	}
	return r
}

// sagOf is by how much a face of curvature 1 lies lower at a point, its row given.
func sagOf(r *row) float64 { return float64(r[1]*r[1]) * acrossScale * acrossScale / 2 }

// cubeOf is the cube of a point's distance from the middle of the zone, mm³.
func cubeOf(r *row) float64 { return float64(r[1]*r[1]*r[1]) * acrossScale * acrossScale * acrossScale }

// bowOf is a sixth of the third derivative of a circle's height where its slope is m and its second
// derivative -c: the curvature c/√(1+m²)³ does not change along it.
func bowOf(m, c float64) float64 { return m * c * c / (2 + float64(2*m*m)) }

// withCurvature says how h0 and m of a face fitted with these weights change with its curvature.
func (f *face) withCurvature(rows []row, weights []float64, inv *[maxUnknowns]row, un int) {
	var dc row
	for i, w := range weights {
		if w > 0 {
			r := &rows[i]
			sag := sagOf(r)
			for k := 0; k < un; k++ {
				dc[k] += float64(w * r[k] * sag)
			}
		}
	}
	f.dh0, f.dm = 0, 0
	for k := 0; k < un; k++ {
		f.dh0 += float64(inv[0][k] * dc[k])
		f.dm += float64(inv[1][k]*dc[k]) / acrossScale
	}
}

// bend returns the curvature that the zone itself shows and its standard uncertainty,
// 1/mm, of the face and not of its height over y: what stations whose frames lean
// differently have in common. across is the same the other way.
func (f *face) bend() (c, u float64) {
	q := f.lean()
	return f.quad / q, f.quadU / q
}

func (f *face) across(c float64) float64 { return float64(c * f.lean()) }

func (f *face) lean() float64 {
	q := 1 + float64(f.m*f.m)
	return q * math.Sqrt(q)
}

// unknowns is how many unknowns a face with its own curvature was fitted with.
func (f *face) unknowns() int {
	if f.g[1] == 0 && f.g[2] == 0 && f.g[3] == 0 {
		return 5
	}
	return 8
}
