package app

import (
	"fmt"
	"math"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// SeamCheck is what a seam as a whole is held to besides its stations' tolerances.
type SeamCheck = evidence.Check

// CheckSeams holds seams to their limits. Of every check the stretch is given that has the worst
// verdict, of several the one whose value is worst beside the limit. A seam without the stations for a
// check is undecided.
func CheckSeams(i *inspection.Inspection, results []*gapflush.Result) (list []SeamCheck) {
	for _, r := range results {
		from := len(list)
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
				list = append(list, steps(r, l.Step, false), steps(r, l.Step, true))
			}
		}
		if r.Unlaid != "" {
			for k := from; k < len(list); k++ {
				list[k].Why = "the seam was not measured, as it could not be laid"
			}
		}
		if r.Open {
			for k := from; k < len(list); k++ {
				list[k].Verdict = verdict.Opened(list[k].Verdict)
			}
		}
	}
	return list
}

// HoldSeams returns the results, nil ones too, with what their seams as a whole are held to in their verdicts, see [gapflush.Result.Hold].
func HoldSeams(i *inspection.Inspection, results []*gapflush.Result) []*gapflush.Result {
	held := make([]*gapflush.Result, len(results))
	for k, r := range results {
		if r != nil {
			held[k] = r.Hold(CheckSeams(i, []*gapflush.Result{r}))
		}
	}
	return held
}

// atMost is the tolerance of what is only limited above.
func atMost(limit float64) verdict.Tolerance { return verdict.Tolerance{Lo: math.Inf(-1), Hi: limit} }

// noValue marks a check without the stations it needs.
func noValue(c SeamCheck, format string, args ...any) SeamCheck {
	c.Why, c.Verdict = fmt.Sprintf(format, args...), verdict.Undecided
	return c
}

// worstOf keeps the stretch that decides a check: its value and the verdict of that value belong together.
type worstOf struct {
	check SeamCheck
	off   float64
}

// take offers the value of a stretch, mm along the path, and how far that is from the middle of what is allowed.
func (w *worstOf) take(v verdict.Value, off, from, to float64) {
	d := verdict.Decide(v, w.check.Limit)
	if !w.check.Value.OK || d > w.check.Verdict || d == w.check.Verdict && off > w.off {
		w.check.Value, w.check.Verdict, w.check.From, w.check.To, w.off = v, d, from, to, off
	}
}

const (
	leastInStretch = 3   // stations that make a line
	leastOfStretch = 0.7 // of its length that they must span
)

// slidingTaper is the steepest least-squares line of gap over every stretch of a length,
// mm per 100 mm. A stretch begins or ends at a station and reaches beyond none of the two at the seam's ends; where
// these are less than it apart, as they stand half a step in from the ends of a seam of about that length, all stations are the stretch. Its U is the larger of what the stations' U and what the scatter about the
// line gives.
func slidingTaper(r *gapflush.Result, over float64) SeamCheck {
	t := r.Seam.Taper
	c := SeamCheck{Seam: r.Seam.Name, Kind: fmt.Sprintf("taper over %.6g mm", over), Unit: "mm per 100 mm", Over: over,
		Limit: verdict.Tolerance{Lo: t.Nominal + t.Tolerance.Lo, Hi: t.Nominal + t.Tolerance.Hi}}
	middle := float64((c.Limit.Lo + c.Limit.Hi) / 2)
	if why := overLong(r.Seam.Path, over); why != "" {
		return noValue(c, "%s", why)
	}
	worst := worstOf{check: c}
	const slack = 1e-6 // mm, so that rounding does not leave a station out
	for _, from := range stretchesOf(r, over, slack) {
		var s, g, u []float64
		for b := range r.Stations {
			if st := &r.Stations[b]; st.Gap.OK && st.Along >= from-slack && st.Along <= from+over+slack {
				s, g, u = append(s, st.Along), append(g, st.Gap.V), append(u, st.Gap.U/2)
			}
		}
		n := len(s)
		if n < leastInStretch || s[n-1]-s[0] < float64(leastOfStretch*over) {
			continue
		}
		v := lineOf(s, g, u)
		worst.take(v, math.Abs(v.V-middle), s[0], s[n-1])
	}
	if !worst.check.Value.OK {
		return noValue(c, "no stretch of %.6g mm holds %d stations with a gap over %.0f %% of it", over, leastInStretch, 100*leastOfStretch)
	}
	return worst.check
}

// overLong says why a path holds no stretch of a length, mm; "" where it does.
func overLong(path []geom.Vec, over float64) string {
	if long := lengthOf(path); long > 0 && over > long {
		return fmt.Sprintf("it is %.0f mm long, so that no stretch of %.6g mm fits into it; write over = %.0f or less, or leave over out: then the taper is that of all of it", long, over, math.Floor(long))
	}
	return ""
}

// OverLong tells, before anything is measured, of seams with typed paths whose taper is asked for over more than they are long.
func OverLong(i *inspection.Inspection) (list []string) {
	for k, seam := range i.Seams {
		for _, l := range i.Limits {
			if l.Seam != seam.Name || l.TaperOver <= 0 || i.LayingOf(k) != inspection.Typed {
				continue
			}
			if why := overLong(seam.Path, l.TaperOver); why != "" {
				list = append(list, Sentence(badSeam(i, seam, "taper.over", why)))
			}
		}
	}
	return list
}

// stretchesOf returns where the stretches of a length begin, mm along, that begin or end at a station and lie between the first and
// the last; the first alone where none does.
func stretchesOf(r *gapflush.Result, over, slack float64) (list []float64) {
	if len(r.Stations) == 0 {
		return nil
	}
	first, last := r.Stations[0].Along, r.Stations[len(r.Stations)-1].Along
	for k := range r.Stations {
		for _, from := range [2]float64{r.Stations[k].Along, r.Stations[k].Along - over} {
			if from >= first-slack && from+over <= last+slack {
				list = append(list, from)
			}
		}
	}
	if len(list) == 0 {
		return []float64{first}
	}
	slices.Sort(list)
	return slices.CompactFunc(list, func(a, b float64) bool { return math.Abs(b-a) < slack })
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

// parallelism is the difference of any two gaps of the seam: mostly of the largest and the smallest, unless
// two others, known less well, may differ by more than is allowed.
func parallelism(r *gapflush.Result, limit float64) SeamCheck {
	c := SeamCheck{Seam: r.Seam.Name, Kind: gapflush.Parallelism, Unit: "mm", Limit: atMost(limit)}
	worst := worstOf{check: c}
	n := 0
	for k := range r.Stations {
		b := &r.Stations[k]
		if !b.Gap.OK {
			continue
		}
		n++
		for j := range k {
			a := &r.Stations[j]
			if d := difference(b.Gap, a.Gap); d.OK {
				d.V = math.Abs(d.V)
				worst.take(d, d.V, a.Along, b.Along)
			}
		}
	}
	if n < 2 {
		return noValue(c, "only %d of %d stations have a gap", n, len(r.Stations))
	}
	return worst.check
}

// difference is a less b, of independent errors; what both share, as a radius assumed, would cancel, so that
// its U is no smaller than it is. There is none where one has no value.
func difference(a, b verdict.Value) verdict.Value {
	if !a.OK || !b.OK {
		return verdict.Value{}
	}
	return verdict.Value{V: a.V - b.V, U: math.Sqrt(float64(a.U*a.U) + float64(b.U*b.U)), OK: true}
}

// steps is the difference of neighbouring stations' gaps or flushes.
func steps(r *gapflush.Result, limit float64, flush bool) SeamCheck {
	kind, pick := gapflush.StepOfGap, func(s *gapflush.Station) verdict.Value { return s.Gap }
	if flush {
		kind, pick = gapflush.StepOfFlush, func(s *gapflush.Station) verdict.Value { return s.Flush }
	}
	c := SeamCheck{Seam: r.Seam.Name, Kind: kind, Unit: "mm", Limit: atMost(limit)}
	worst := worstOf{check: c}
	for k := 1; k < len(r.Stations); k++ {
		a, b := pick(&r.Stations[k-1]), pick(&r.Stations[k])
		d := difference(b, a)
		if !d.OK {
			continue
		}
		d.V = math.Abs(d.V)
		worst.take(d, d.V, r.Stations[k-1].Along, r.Stations[k].Along)
	}
	if !worst.check.Value.OK {
		return noValue(c, "no two neighbouring stations have a %s", figureName(flush))
	}
	return worst.check
}
