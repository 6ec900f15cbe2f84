package gapflush

import "math"

// correlation gathers products of the residuals of a face zone's points, by the
// distance of the two in steps of half their spacing. Each zone's residuals are
// taken in units of their own scatter, so that none rules.
type correlation struct {
	products, pairs [correlationBins]float64
}

const (
	correlationBins  = 14 // of half a spacing: out to seven
	correlationPairs = 8000
)

// gather takes the pairs of one zone.
func (q *correlation) gather(pts []zonePoint, f *face, lo, hi, spread float64) {
	type residual struct{ x, y, e float64 }
	*q = correlation{}
	var r []residual
	v := 0.0
	for i := range pts {
		p := &pts[i]
		if p.y < lo || p.y > hi || p.nh < facing {
			continue
		}
		if e := p.h - f.at(p.x, p.y); math.Abs(e) <= 3.5*f.sigma {
			r = append(r, residual{p.x, p.y, e})
			v += float64(e * e)
		}
	}
	if len(r) < minOnFace || v == 0 {
		return
	}
	v /= float64(len(r))
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
				q.products[int(d)] += r[i].e * r[k].e / v
				q.pairs[int(d)]++
			}
		}
	}
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
// meshed or smoothed: white noise then is alike at neighbouring points. A fit takes
// some of the noise along, which leaves points farther apart unlike; where they are
// least alike is nothing.
func (q *correlation) filtering() (s filter) {
	const (
		near   = 5    // bins, to two and a half spacings, hold the correlation
		first  = 3    // bins, to one and a half, hold it surely
		trough = 3    // bins
		least  = 0.04 // as a fifth of a pass over the neighbours leaves
		sure   = 5.0  // standard deviations
		half   = 2.0  // the fit takes about half of the correlation along: one pass over six neighbours has 6, and shows 3.5
	)
	mean := func(from, to int) (rho, pairs float64) {
		sum := 0.0
		for i := from; i < to; i++ {
			sum += q.products[i]
			pairs += q.pairs[i]
		}
		return sum / max(pairs, 1), pairs
	}
	far, _ := mean(near+trough, correlationBins)
	rho, pairs := mean(0, first)
	if r := (rho - far) / (1 - far); r < least || r*math.Sqrt(pairs/2) < sure {
		return s
	}
	base := far
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
