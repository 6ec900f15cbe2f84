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
	f.layer = float64(other) / float64(max(other+len(in)-far, 1)) // none where nothing lies near, as over a hole
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
