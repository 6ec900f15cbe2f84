package deviation

import (
	"cmp"
	"context"
	"math"
	"slices"

	"shutline/deviation/verdict"
	"shutline/mesh/parallel"
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
	U                        UFigures
}

// Figures returns the area-weighted figures where there are any, else those that count every point
// once, as of a scan without faces, and whether they are by area.
func (s *Summary) Figures() (f Figures, byArea bool) {
	if s.AreaWeighted.OK {
		return s.AreaWeighted, true
	}
	return s.Unweighted, false
}

// UFigures are the statistics of the uncertainty U (k = 2) of the measured
// points that have one, unweighted; without any OK is false. A percentile is the
// value at its rank, rounded down.
type UFigures struct {
	OK            bool
	P50, P95, Max float64 // mm
	Noise         float64 // mm, one standard deviation of a scan point, as used
	Without       int     // measured points whose deviation has no U
}

// Summarise draws the figures from a field; areas are the scan's vertex areas
// in mm², one per point, or nil, which leaves the weighted figures out.
func Summarise(f *Field, areas []float64, tolerance verdict.Tolerance) Summary {
	s := Summary{ReferenceCovered: f.Covered, U: uFigures(f)}
	list := make([]sample, 0, len(f.State))
	for i, state := range f.State {
		s.Count[state]++
		if state == Measured {
			w := 1.0
			if areas != nil {
				w = areas[i]
			}
			list = append(list, sample{f.Deviation[i], w})
		}
	}
	sorted(list)
	if areas != nil {
		weighted := make([]sample, 0, len(list))
		for _, v := range list {
			if v.w > 0 {
				weighted = append(weighted, v)
			}
		}
		s.AreaWeighted = figures(weighted, tolerance, true)
		for i := range list {
			list[i].w = 1
		}
	}
	s.Unweighted = figures(list, tolerance, false)
	return s
}

func uFigures(f *Field) UFigures {
	out := UFigures{Noise: f.Noise}
	list := make([]float64, 0, len(f.U))
	for i, u := range f.U {
		switch {
		case f.State[i] != Measured:
		case u == NoU:
			out.Without++
		default:
			list = append(list, u)
			out.Max = max(out.Max, u)
		}
	}
	if n := len(list); n > 0 {
		out.OK, out.P50, out.P95 = true, ranked(list, (n-1)/2), ranked(list, (n-1)*19/20)
	}
	return out
}

// ranked returns the value at rank k, from 0, of numbers that are not negative,
// whose bits rise with their size: by counting, as sorting millions takes longer.
func ranked(values []float64, k int) float64 {
	const shift = 64 - 20
	counts := make([]int, 1<<20)
	for _, v := range values {
		counts[math.Float64bits(v)>>shift]++
	}
	bucket := uint64(0)
	for ; k >= counts[bucket]; bucket++ {
		k -= counts[bucket]
	}
	same := make([]float64, 0, counts[bucket])
	for _, v := range values {
		if math.Float64bits(v)>>shift == bucket {
			same = append(same, v)
		}
	}
	slices.Sort(same)
	return same[k]
}

type sample struct{ x, w float64 }

// sorted sorts samples, which also makes the sums independent of their order. The
// order is total but for equal samples, so halves may be sorted side by side.
func sorted(v []sample) {
	const side = 1 << 15 // below that another goroutine costs more than it saves
	compare := func(a, b sample) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return cmp.Compare(a.w, b.w)
	}
	if len(v) < 2*side {
		slices.SortFunc(v, compare)
		return
	}
	half := len(v) / 2
	_ = parallel.Chunks(context.Background(), 2, 1, 2, nil, func(_, chunk, _, _ int) {
		if chunk == 0 {
			slices.SortFunc(v[:half], compare)
		} else {
			slices.SortFunc(v[half:], compare)
		}
	})
	left := slices.Clone(v[:half])
	at, i, j := 0, 0, half
	for i < len(left) {
		if j < len(v) && compare(v[j], left[i]) < 0 {
			v[at], j = v[j], j+1
		} else {
			v[at], i = left[i], i+1
		}
		at++
	}
}

// figures takes sorted samples.
func figures(v []sample, tolerance verdict.Tolerance, weighted bool) Figures {
	if len(v) == 0 {
		return Figures{}
	}
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
