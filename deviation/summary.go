package deviation

import (
	"cmp"
	"math"
	"slices"

	"shutline/deviation/verdict"
)

// Figures are the statistics of the measured points. Without any measured
// point of positive weight OK is false.
//
// With weights w and W = Σw: mean = Σwx/W, RMS² = Σwx²/W and
// SD² = Σw(x-mean)² / (W - Σw²/W), the unbiased estimate for weights that say
// how much each point stands for (reliability weights); with equal weights its
// divisor is n - 1. SD of a single point is 0.
//
// Percentiles interpolate linearly: unweighted at the positions (i-1)/(n-1)
// (Hyndman & Fan 1996, type 7), weighted at the cumulative weight in the middle
// of each point's share, (w1 + ... + wi - wi/2)/W, the end values beyond the
// first and last of them.
type Figures struct {
	OK                      bool
	Mean, SD, RMS, Min, Max float64 // mm; SD with n - 1
	P025, P50, P975         float64 // mm, percentiles
	ShareInTolerance        float64 // 0 to 1
}

// Summary is what surface-summary.csv holds.
type Summary struct {
	Count                    [4]int // by State
	AreaWeighted, Unweighted Figures
	ReferenceCovered         float64
}

// Summarise draws the figures from a field; areas are the scan's vertex areas
// in mm², one per point, or nil, which leaves the weighted figures out.
func Summarise(f *Field, areas []float64, tolerance verdict.Tolerance) Summary {
	s := Summary{ReferenceCovered: f.Covered}
	plain := make([]sample, 0, len(f.State))
	for i, state := range f.State {
		s.Count[state]++
		if state == Measured {
			plain = append(plain, sample{f.Deviation[i], 1})
		}
	}
	s.Unweighted = figures(plain, tolerance, false)
	if areas == nil {
		return s
	}
	weighted := plain[:0]
	for i, state := range f.State {
		if state == Measured && areas[i] > 0 {
			weighted = append(weighted, sample{f.Deviation[i], areas[i]})
		}
	}
	s.AreaWeighted = figures(weighted, tolerance, true)
	return s
}

type sample struct{ x, w float64 }

// figures sorts the samples, which also makes the sums independent of their order.
func figures(v []sample, tolerance verdict.Tolerance, weighted bool) Figures {
	if len(v) == 0 {
		return Figures{}
	}
	slices.SortFunc(v, func(a, b sample) int {
		return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.w, b.w))
	})
	f := Figures{OK: true, Min: v[0].x, Max: v[len(v)-1].x}
	f.moments(v, tolerance)
	at := plainPercentiles
	if weighted {
		at = weightedPercentiles
	}
	p := at(v, [3]float64{0.025, 0.5, 0.975})
	f.P025, f.P50, f.P975 = p[0], p[1], p[2]
	return f
}

// moments takes two passes about a first mean, so that a mean large beside the
// spread costs no digits (Chan, Golub & LeVeque 1983).
func (f *Figures) moments(v []sample, tolerance verdict.Tolerance) {
	var w, wx, ww, inside float64
	for _, s := range v {
		w += s.w
		ww += float64(s.w * s.w)
		wx += float64(s.w * s.x)
		if s.x >= tolerance.Lo && s.x <= tolerance.Hi {
			inside += s.w
		}
	}
	rough := wx / w
	var d, dd float64
	for _, s := range v {
		e := s.x - rough
		d += float64(s.w * e)
		dd += float64(s.w * float64(e*e))
	}
	rest := d / w
	f.Mean = rough + rest
	spread := max(dd-float64(w*float64(rest*rest)), 0)
	f.RMS = math.Sqrt(float64(f.Mean*f.Mean) + spread/w)
	if div := w - ww/w; div > 0 && len(v) > 1 {
		f.SD = math.Sqrt(spread / div)
	}
	f.ShareInTolerance = inside / w
}

func plainPercentiles(v []sample, at [3]float64) (out [3]float64) {
	for k, share := range at {
		pos := float64(share * float64(len(v)-1))
		i := min(int(pos), len(v)-1)
		j := min(i+1, len(v)-1)
		out[k] = v[i].x + float64((pos-float64(i))*(v[j].x-v[i].x))
	}
	return out
}

func weightedPercentiles(v []sample, at [3]float64) (out [3]float64) {
	total := 0.0
	for _, s := range v {
		total += s.w
	}
	k, before, last := 0, 0.0, 0.0
	for i, s := range v {
		here := (before + float64(s.w/2)) / total
		for k < len(at) && at[k] <= here {
			out[k] = s.x
			if i > 0 && here > last {
				out[k] = v[i-1].x + float64((at[k]-last)/(here-last)*(s.x-v[i-1].x))
			}
			k++
		}
		before, last = before+s.w, here
	}
	for ; k < len(at); k++ {
		out[k] = v[len(v)-1].x
	}
	return out
}
