package gapflush

import "math"

// face is a skin fitted in its zone: at x = 0, h = h0 + m (y-y0) - c (y-y0)²/2 + bow (y-y0)³;
// along the seam it follows a polynomial g of x and may turn (b x y). A line in the
// skin that does not cross square to the seam lies farther on at every y: skew.
type face struct {
	h0, m, c, y0   float64
	bow            float64 // 1/mm², what a circle that leans by m has of the third order
	g              [4]float64
	b, skew        float64
	sharpness      float64       // mm, what of g is no parabola, where the points tell it from noise, else 0
	cov            [2][2]float64 // of h0, m
	dh0, dm        float64       // change of h0, m with c
	sigma          float64       // mm, robust scatter of the zone's points
	n, order       int
	quad, quadU    float64 // curvature the zone itself shows, 1/mm, and its standard uncertainty
	bent           *face   // the same with the curvature the zone itself shows; nil: not asked for
	wide           wideBend
	double         bool    // its points lie in two layers close together
	stepped        bool    // it parts along the seam into two surfaces at different heights
	covered, layer float64 // share of the zone's cells with points; share of points on another layer
	ends           bool    // it ends, or bends away, far before its zone does
}

const (
	// leastNoise is the least scatter of points, mm: about the step of a file's 32-bit numbers at 1 m.
	leastNoise = 1e-4
	// leastFace is the same for what is carried on from a face, which no point tells: the step at 4 m.
	leastFace = 2.5e-4
)

const minOnFace = 12 // points in a zone, twice the unknowns of its plainest fit and some

const alongScale, acrossScale = 8.0, 5.0 // mm, to bring the basis to about one

func (f *face) at0(y float64) float64 {
	d := y - f.y0
	h := f.h0 + float64(f.m*d) - float64(f.c*d*d/2) + float64(f.bow*d*d*d)
	if f.skew != 0 {
		h += f.course(f.skew * d / acrossScale)
	}
	return h
}

func (f *face) slope(y float64) float64 {
	d := y - f.y0
	m := f.m - float64(f.c*d) + float64(3*f.bow*d*d)
	if f.skew != 0 {
		m += float64(f.rise(f.skew*d/acrossScale) * f.skew / acrossScale)
	}
	return m
}

func (f *face) at(x, y float64) float64 {
	t, d := float64(x/alongScale), y-f.y0
	return f.h0 + float64(f.m*d) - float64(f.c*d*d/2) + float64(f.bow*d*d*d) + f.course(t+float64(f.skew*d/acrossScale)) + float64(f.b*t*d/acrossScale)
}

// course is g at a share of alongScale, and rise its slope.
func (f *face) course(t float64) float64 {
	return float64(t * (f.g[0] + float64(t*(f.g[1]+float64(t*(f.g[2]+float64(t*f.g[3])))))))
}

func (f *face) rise(t float64) float64 {
	return f.g[0] + float64(t*(float64(2*f.g[1])+float64(t*(float64(3*f.g[2])+float64(t*4*f.g[3])))))
}

// zonePoint is a point carried along the edge: y is less the edge's own course.
type zonePoint struct{ x, y, h, ny, nh float64 }

// carry returns the points within band with the course of the edge taken out of y, from lo to hi of it.
func carry(pts []pt, c *curve, band, lo, hi float64, out []zonePoint) []zonePoint {
	out = out[:0]
	for i := range pts {
		p := &pts[i]
		if math.Abs(p.x) > band {
			continue
		}
		if y := p.y - float64(p.x*c.s1) - float64(p.x*p.x*c.s2); y >= lo && y <= hi {
			out = append(out, zonePoint{p.x, y, p.h, p.ny, p.nh})
		}
	}
	return out
}

// fitFace fits the skin from zone[0] to zone[1] mm behind s. scratch is memory to use again; near, unless
// nil, is the same skin fitted for nearly the same s.
func fitFace(scratch *faceRoom, pts []zonePoint, c *curve, start line, s float64, zone [2]float64, curvature, noise, band, spread float64, near *face) (f face, ok bool) {
	f = face{c: curvature, y0: s - float64((zone[0]+zone[1])/2)}
	lo, hi := s-zone[1], s-zone[0]
	in := scratch.in[:0]
	other, far, farOther, last := 0, 0, 0, hi
	for i := range pts {
		p := &pts[i]
		if p.y < lo || p.y > hi || p.nh < facing {
			continue
		}
		e := p.h - start.at(0, p.y) - (c.h(p.x) - c.h0)
		away := hi-p.y > layersWithin // what leaves the skin there may be the skin, bent
		switch {
		case math.Abs(e) <= 0.8:
			in, last = append(in, *p), min(last, p.y)
			if away {
				far++
			}
		case math.Abs(e) <= 6 && away:
			farOther++
			last = min(last, p.y)
		case math.Abs(e) <= 6:
			other++
		}
	}
	scratch.in = in
	if len(in) < minOnFace {
		return f, false
	}
	f.layer = float64(other) / float64(other+len(in)-far)
	f.ends = last-lo > max(endsBefore, (hi-lo)/10) || farOther > far
	left, right := 0, 0
	for _, p := range in {
		if p.x < -band*0.6 {
			left++
		}
		if p.x > band*0.6 {
			right++
		}
	}
	across, lengthwise := coverCells(hi-lo, band, spread)
	f.covered = coverOf(in, lo, hi, band, across, lengthwise)
	if f.covered < minCovered && across > rowsAcross && coverOf(in, lo, hi, band, rowsAcross, mostLengthwise) == 1 {
		// Wide rows of points, as of a scan whose flat parts were thinned out, leave cells empty and the zone is seen all the same.
		f.covered = minCovered
	}
	// A polynomial of the fourth order follows a character line that crosses the
	// band; one that would be carried past its points must stay straight.
	f.order = 4
	if left < 4 || right < 4 || len(in) < 40 {
		f.order = 1
	}
	if ok = f.solve(scratch, in, f.order, noise, band, false, near); !ok && f.order != 1 {
		ok = f.solve(scratch, in, 1, noise, band, false, near)
	}
	if ok {
		f.stepped = steps(in, c, start, max(noise, f.sigma), band, spread)
		f.double = f.twoLayers(in, noise)
		f.pattern(in, lo, hi, noise)
	}
	return f, ok
}

// free asks a face also for the curvature that its zone itself shows, from the same points right after it was fitted from them,
// and on demand for that of a longer stretch.
func (f *face) free(scratch *faceRoom, pts []zonePoint, zone [2]float64, noise, band float64, wide bool) {
	g := *f
	if g.solve(scratch, scratch.in, f.order, noise, band, true, f) {
		f.quad, f.quadU = g.quad, g.quadU
		g.c = g.quad
		f.bent = &g
		if wide {
			s := f.y0 + float64((zone[0]+zone[1])/2)
			f.wide = f.widen(pts, s-zone[1], s-zone[0], s, noise)
		}
	}
}

// pattern enlarges the covariance of a face whose points do not scatter about it as
// noise but follow a shape across the seam that it has not, a bend for instance: by
// Birge's ratio (1932) of the means over sixths of the zone.
func (f *face) pattern(in []zonePoint, lo, hi, noise float64) {
	const (
		parts  = 6
		chance = 2.5 // with four degrees of freedom chance alone exceeds it once in thirty
	)
	var sum, n [parts]float64
	for i := range in {
		e := in[i].h - f.at(in[i].x, in[i].y)
		if math.Abs(e) > 4*max(f.sigma, noise) {
			continue
		}
		k := min(max(int((in[i].y-lo)/(hi-lo)*parts), 0), parts-1)
		sum[k] += e
		n[k]++
	}
	chi2, used := 0.0, 0
	for k := range sum {
		if n[k] > 0 {
			chi2 += float64(sum[k] * sum[k] / n[k])
			used++
		}
	}
	if used < 4 {
		return
	}
	v := max(f.sigma, noise)
	ratio := chi2 / float64(used-2) / (v * v)
	if ratio < chance {
		return
	}
	for i := range f.cov {
		for k := range f.cov[i] {
			f.cov[i][k] *= ratio
		}
	}
}

// twoLayers reports whether the points of a zone lie in two layers too close to
// be told by height alone, as the double walls of passes that do not match: they
// scatter by more than noise, and their kurtosis, 3 for noise, is near the 1 of two
// equal layers (Darlington 1970); at shares of 30 to 70 % it is 1.8. Unlike those of
// a zone that is bent they scatter so side by side, within a cell of a few mm.
func (f *face) twoLayers(in []zonePoint, noise float64) bool {
	const (
		flat    = 2.0
		scatter = 2.5 // times the noise; layers five times the noise apart
		few     = 40
		size    = 2.5 // mm
		cells   = 8
	)
	if len(in) < few {
		return false
	}
	var sum, count [cells][cells]float64
	m2, m4 := 0.0, 0.0
	for i := range in {
		e := in[i].h - f.at(in[i].x, in[i].y)
		a := min(max(int((in[i].y-f.y0)/size+cells/2), 0), cells-1)
		b := min(max(int(in[i].x/size+cells/2), 0), cells-1)
		sum[a][b] += e
		count[a][b]++
		e = float64(e * e)
		m2 += e
		m4 += float64(e * e)
	}
	between, used := 0.0, 0.0
	for a := range sum {
		for b := range sum[a] {
			if count[a][b] > 0 {
				between += float64(sum[a][b] * sum[a][b] / count[a][b])
				used++
			}
		}
	}
	n := float64(len(in))
	// What the cells' means do not explain, as a variance.
	within := (m2 - between) / max(n-used, 1)
	m2 /= n
	return within > scatter*scatter*noise*noise && within > m2/2 && m4/n < flat*float64(m2*m2)
}

const (
	// layersWithin is how far into a zone, mm, points tell another layer: the whole of a usual one.
	layersWithin = 10.0
	// endsBefore is how much of a zone, mm, may lie beyond the last of its points; more than that, and than a tenth, of one that is long says
	// that the panel is not as long. Of a usual zone minCovered asks for more.
	endsBefore = 5.0
)

const (
	mostAcross, mostLengthwise = 10, 4
	rowsAcross                 = 3 // of the usual zone 3.3 mm each
)

// coverOf returns the share of so many cells of a zone that hold points.
func coverOf(in []zonePoint, lo, hi, band float64, across, lengthwise int) float64 {
	var cells [mostAcross][mostLengthwise]bool
	filled := 0
	for _, p := range in {
		i := min(max(int((p.y-lo)/(hi-lo)*float64(across)), 0), across-1)
		j := min(max(int((p.x+band)/(2*band)*float64(lengthwise)), 0), lengthwise-1)
		if !cells[i][j] {
			cells[i][j] = true
			filled++
		}
	}
	return float64(filled) / float64(across*lengthwise)
}

// coverCells returns how many cells a face zone is divided into to see holes in
// it: 1 mm by a quarter of the band, and wider where points are sparse. A cell
// that holds two points on average is empty by chance in e^-2 = 13 % of all cases.
func coverCells(width, band, spread float64) (across, lengthwise int) {
	across, lengthwise = mostAcross, mostLengthwise
	for across*lengthwise > 4 && width*2*band/float64(across*lengthwise) < 2*spread*spread {
		if across > 2*lengthwise {
			across--
		} else {
			lengthwise--
			across = min(across, mostAcross)
		}
	}
	return across, max(lengthwise, 2)
}

const (
	// narrow is the half length, mm, along a seam of a zone over which a character line is
	// followed: a corner in it of 0.2 is missed by 0.03 mm of a polynomial there, half as
	// much as over a band of 8 mm.
	narrow   = 4.0
	sharpest = 0.03 // mm, that a course may differ from a parabola
)

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
	rows, weights := room(&scratch.rows, len(in)), room(&scratch.weights, len(in))
	flat, cubes := room(&scratch.flat, len(in)), room(&scratch.cubes, len(in))
	for i := range in {
		rows = append(rows, f.rowOf(&in[i], order, free, un))
		r := &rows[i]
		h := in[i].h
		if !free {
			h += float64(f.c * sagOf(r))
		}
		flat, cubes = append(flat, h), append(cubes, cubeOf(r))
	}
	weights = weights[:len(rows)]
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
			for i := range in {
				rows[i] = f.rowOf(&in[i], order, free, un)
				// Less than its whole step: the course may have a corner.
				rows[i][un-1] = float64(rows[i][1] * f.rise(rows[i][3]))
			}
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
		f.sigma = sigma
		f.h0, f.m, f.b = beta[0], beta[1]/acrossScale, beta[2]
		f.cov = [2][2]float64{{v * inv[0][0], v * inv[0][1] / acrossScale}, {v * inv[0][1] / acrossScale, v * inv[1][1] / acrossScale / acrossScale}}
		f.g = [4]float64{}
		for k := 0; k < order; k++ {
			f.g[k] = beta[3+k]
		}
		if skewed && round >= skewFrom {
			f.skew += min(max(beta[un-1], -0.1), 0.1)
			beta[un-1] = 0
		}
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
	f.cov = [2][2]float64{{v * i[0][0], v * i[0][1] / acrossScale}, {v * i[0][1] / acrossScale, v * i[1][1] / acrossScale / acrossScale}}
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
