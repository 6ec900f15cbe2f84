package app

import (
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// SeamCheck is what a seam as a whole is held to besides its stations' tolerances.
type SeamCheck struct {
	Seam     string
	Kind     string // "taper over 300 mm", "parallelism", "step of gap", "step of flush"
	Unit     string // "mm" or "mm per 100 mm"
	Value    verdict.Value
	Limit    verdict.Tolerance // an infinite limit is none
	From, To float64           // mm along the path: the stretch of the value
	Verdict  verdict.Verdict
	Why      string // when there is no number
}

// CheckSeams holds seams to their limits. Of every check the stretch is given that is
// worst beside its limit, with its own verdict and, of all stretches, the worst
// verdict. A seam without the stations for a check is undecided.
func CheckSeams(i *inspection.Inspection, results []*gapflush.Result) (list []SeamCheck) {
	for _, r := range results {
		for _, l := range i.Limits {
			if l.Seam != r.Seam.Name {
				continue
			}
			if l.TaperOver > 0 && r.Seam.Taper.Judged {
				list = append(list, slidingTaper(r, l.TaperOver))
			}
			if l.Parallel > 0 {
				list = append(list, parallelism(r, l.Parallel))
			}
			if l.Step > 0 {
				list = append(list, steps(r, l.Step, "gap", func(s *gapflush.Station) verdict.Value { return s.Gap }),
					steps(r, l.Step, "flush", func(s *gapflush.Station) verdict.Value { return s.Flush }))
			}
		}
	}
	return list
}

// atMost is the tolerance of what is only limited above.
func atMost(limit float64) verdict.Tolerance { return verdict.Tolerance{Lo: math.Inf(-1), Hi: limit} }

// none marks a check without the stations it needs.
func (c SeamCheck) none(format string, args ...any) SeamCheck {
	c.Why, c.Verdict = fmt.Sprintf(format, args...), verdict.Undecided
	return c
}

const (
	leastInStretch = 3   // stations that make a line
	leastOfStretch = 0.7 // of its length that they must span
)

// slidingTaper is the steepest least-squares line of gap over every stretch of a length,
// mm per 100 mm. Its U is the larger of what the stations' U and what the scatter about the
// line gives.
func slidingTaper(r *gapflush.Result, over float64) SeamCheck {
	t := r.Seam.Taper
	c := SeamCheck{Seam: r.Seam.Name, Kind: fmt.Sprintf("taper over %.6g mm", over), Unit: "mm per 100 mm",
		Limit: verdict.Tolerance{Lo: t.Nominal + t.Tolerance.Lo, Hi: t.Nominal + t.Tolerance.Hi}}
	middle, half := float64((c.Limit.Lo+c.Limit.Hi)/2), float64((c.Limit.Hi-c.Limit.Lo)/2)
	worst := math.Inf(-1)
	const slack = 1e-6 // mm, so that rounding does not leave a station out
	for a := range r.Stations {
		var s, g, u []float64
		for b := a; b < len(r.Stations) && r.Stations[b].Along <= r.Stations[a].Along+over+slack; b++ {
			if st := &r.Stations[b]; st.Gap.OK {
				s, g, u = append(s, st.Along), append(g, st.Gap.V), append(u, st.Gap.U/2)
			}
		}
		n := len(s)
		if n < leastInStretch || s[n-1]-s[0] < float64(leastOfStretch*over) {
			continue
		}
		v := lineOf(s, g, u)
		c.Verdict = verdict.Worst(c.Verdict, verdict.Decide(v, c.Limit))
		if d := math.Abs(v.V-middle) / half; d > worst {
			worst, c.Value, c.From, c.To = d, v, s[0], s[n-1]
		}
	}
	if !c.Value.OK {
		return c.none("no stretch of %.6g mm holds %d stations with a gap over %.0f %% of it", over, leastInStretch, 100*leastOfStretch)
	}
	return c
}

// lineOf returns the slope of a least-squares line, per 100, with its expanded uncertainty; u are standard ones.
func lineOf(s, g, u []float64) verdict.Value {
	n := float64(len(s))
	ms, mg := 0.0, 0.0
	for k := range s {
		ms += s[k] / n
		mg += g[k] / n
	}
	sxx, sxy := 0.0, 0.0
	for k := range s {
		d := s[k] - ms
		sxx += float64(d * d)
		sxy += float64(d * (g[k] - mg))
	}
	slope := sxy / sxx
	own, left := 0.0, 0.0
	for k := range s {
		d := s[k] - ms
		own += float64(float64(d*u[k]) * float64(d*u[k]))
		e := g[k] - mg - float64(slope*d)
		left += float64(e * e)
	}
	variance := own / float64(sxx*sxx)
	if n > 2 {
		variance = max(variance, left/(n-2)/sxx)
	}
	return verdict.Value{V: 100 * slope, U: 200 * math.Sqrt(variance), OK: true}
}

// parallelism is the largest gap less the smallest.
func parallelism(r *gapflush.Result, limit float64) SeamCheck {
	c := SeamCheck{Seam: r.Seam.Name, Kind: "parallelism", Unit: "mm", Limit: atMost(limit)}
	lo, hi, n := -1, -1, 0
	for k := range r.Stations {
		if g := r.Stations[k].Gap; g.OK {
			n++
			if lo < 0 || g.V < r.Stations[lo].Gap.V {
				lo = k
			}
			if hi < 0 || g.V > r.Stations[hi].Gap.V {
				hi = k
			}
		}
	}
	if n < 2 {
		return c.none("only %d of %d stations have a gap", n, len(r.Stations))
	}
	c.Value = difference(r.Stations[hi].Gap, r.Stations[lo].Gap)
	c.From, c.To = r.Stations[min(lo, hi)].Along, r.Stations[max(lo, hi)].Along
	c.Verdict = verdict.Decide(c.Value, c.Limit)
	return c
}

// difference is a less b, of independent errors.
func difference(a, b verdict.Value) verdict.Value {
	return verdict.Value{V: a.V - b.V, U: math.Sqrt(float64(a.U*a.U) + float64(b.U*b.U)), OK: a.OK && b.OK}
}

// steps is the largest difference of neighbouring stations.
func steps(r *gapflush.Result, limit float64, what string, pick func(*gapflush.Station) verdict.Value) SeamCheck {
	c := SeamCheck{Seam: r.Seam.Name, Kind: "step of " + what, Unit: "mm", Limit: atMost(limit)}
	for k := 1; k < len(r.Stations); k++ {
		a, b := pick(&r.Stations[k-1]), pick(&r.Stations[k])
		d := difference(b, a)
		if !d.OK {
			continue
		}
		d.V = math.Abs(d.V)
		c.Verdict = verdict.Worst(c.Verdict, verdict.Decide(d, c.Limit))
		if !c.Value.OK || d.V > c.Value.V {
			c.Value, c.From, c.To = d, r.Stations[k-1].Along, r.Stations[k].Along
		}
	}
	if !c.Value.OK {
		return c.none("no two neighbouring stations have a %s", what)
	}
	return c
}
