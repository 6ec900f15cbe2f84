package gapflush

import "math"

// correlation gathers products of the residuals of a face zone's points, by the
// distance of the two in steps of half their spacing. Each zone's residuals are
// taken in units of their own scatter, so that none rules, and less by what the fit
// itself makes of noise that is not correlated: residuals of a least-squares fit have
// the covariance 1 - H, H being its hat matrix (Hoaglin and Welsch 1978).
type correlation struct {
	products, pairs [correlationBins]float64
}

const (
	correlationBins  = 14 // of half a spacing: out to seven
	correlationPairs = 8000
	nearBins         = 3    // to one and a half spacings, hold a correlation surely
	noNoise          = 1e-3 // mm, less is what a fit leaves of the shape of a face, no scan is as quiet
)

// gather takes the pairs of one zone.
func (q *correlation) gather(pts []zonePoint, f *face, lo, hi, spread float64) {
	type residual struct {
		x, y, e  float64
		row, hat row // of the fit; the inverse times row
	}
	*q = correlation{}
	var r []residual
	v := 0.0
	for i := range pts {
		p := &pts[i]
		if p.y < lo || p.y > hi || p.nh < facing {
			continue
		}
		if e := p.h - f.at(p.x, p.y); math.Abs(e) <= 3.5*f.sigma {
			r = append(r, residual{x: p.x, y: p.y, e: e})
			v += float64(e * e)
		}
	}
	v /= float64(max(len(r), 1))
	if len(r) < minOnFace || v < noNoise*noNoise {
		return
	}
	eq := normalEq{n: f.unknowns()}
	for i := range r {
		d, t := (r[i].y-f.y0)/acrossScale, r[i].x/alongScale
		r[i].row = row{1, d, d * d, d * t, t}
		for k, u := 5, t*t; k < eq.n; k, u = k+1, u*t {
			r[i].row[k] = u
		}
		eq.add(&r[i].row, 0, 1)
	}
	inv, ok := eq.inverse()
	if !ok {
		return
	}
	for i := range r {
		for k := range eq.n {
			for l := range eq.n {
				r[i].hat[k] += float64(inv[k][l] * r[i].row[l])
			}
		}
	}
	left := 1 - float64(eq.n)/float64(len(r)) // of the variance
	// Enough first points are taken for their pairs, spread over the zone.
	step := max(len(r)*len(r)/correlationPairs, 1)
	for i := 0; i < len(r); i += step {
		for k := range r {
			if k == i {
				continue
			}
			dx, dy := r[k].x-r[i].x, r[k].y-r[i].y
			d := math.Sqrt(float64(dx*dx)+float64(dy*dy)) / spread * 2
			if d < correlationBins {
				h := 0.0
				for l := range eq.n {
					h += float64(r[i].hat[l] * r[k].row[l])
				}
				q.products[int(d)] += float64(r[i].e*r[k].e)/v + h/left
				q.pairs[int(d)]++
			}
		}
	}
}

// near is the mean correlation of neighbouring points.
func (q *correlation) near() shown {
	sum, n := 0.0, 0.0
	for i := range nearBins {
		sum += q.products[i]
		n += q.pairs[i]
	}
	return shown{v: sum / max(n, 1), ok: n > 0}
}

func (q *correlation) add(o *correlation) {
	for i := range o.pairs {
		q.products[i] += o.products[i]
		q.pairs[i] += o.pairs[i]
	}
}

// filter is what the noise of a scan says of a filter it went through.
type filter struct {
	found  bool
	shared float64 // by how much the variance of a mean is larger than that of as many independent points
}

// filtering reads from the noise whether it went through a filter, as when a scan is
// meshed or smoothed: noise then is alike at neighbouring points of so many zones.
func (q *correlation) filtering(zones int) (s filter) {
	// In standard deviations. One pass leaves about three in the two zones of one
	// station: rather a filter too many there, which costs uncertainty, than none.
	sure := min(4, 1.5*math.Sqrt(float64(zones)/2))
	const (
		near   = 5    // bins, to two and a half spacings, hold the correlation
		trough = 3    // bins
		least  = 0.03 // as a sixth of a pass over the neighbours leaves
		half   = 2.0  // a fit takes about half of what is correlated along
	)
	mean := func(from, to int) (rho, pairs float64) {
		sum := 0.0
		for i := from; i < to; i++ {
			sum += q.products[i]
			pairs += q.pairs[i]
		}
		return sum / max(pairs, 1), pairs
	}
	if rho, pairs := mean(0, nearBins); rho < least || rho*math.Sqrt(pairs/2) < sure {
		return s
	}
	base := 0.0
	for i := near - 1; i+trough <= correlationBins; i++ {
		b, _ := mean(i, i+trough)
		base = min(base, b)
	}
	sum := 0.0
	for i := range near {
		if r, pairs := mean(i, i+1); pairs > 0 {
			// Points of one a square spacing.
			sum += float64(math.Pi / 4 * float64(2*i+1) * (r - base) / (1 - base))
		}
	}
	return filter{true, 1 + half*max(sum, 0)}
}

// most is by how much the filter draws a roll inward, as far as the noise tells: one
// pass over the neighbours of points a pitch apart, two thirds of whose squares lie
// across the edge, moves them by pitch²/3r, and leaves the noise of six alike.
func (s filter) most(pitch, r float64) float64 {
	return float64(pitch * pitch / 3 / max(r, pitch) * max(s.shared/6, 1))
}
