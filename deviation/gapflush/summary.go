package gapflush

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/deviation/verdict"
)

// unmeasuredShare of the stations may lack a number before a seam is undecided at best.
const unmeasuredShare = 0.1

func (j *job) summary() {
	r := j.result
	var gaps, flushes []Station
	worst := verdict.NotJudged
	for _, s := range r.Stations {
		if s.State == Measured {
			r.Measured++
			gaps = append(gaps, s)
		}
		if s.Flush.OK {
			flushes = append(flushes, s)
		}
		worst = verdict.Worst(worst, s.GapVerdict, s.FlushVerdict)
	}
	through := 0
	for i := range gaps {
		if gaps[i].through() {
			through++
		}
	}
	if 2*through > len(gaps) {
		j.note("At %d of %d measured stations one surface runs from side A down and up to side B, as in a pressed groove or where the scan closed the gap: make sure that this is a shut line.", through, len(gaps))
	}
	r.GapMean, r.GapMin, r.GapMax = spanOf(gaps, func(s *Station) (verdict.Value, []BudgetLine) { return s.Gap, s.GapBudget })
	r.FlushMean, r.FlushMin, r.FlushMax = spanOf(flushes, func(s *Station) (verdict.Value, []BudgetLine) { return s.Flush, s.FlushBudget })
	if !r.Folded {
		r.Taper = taper(gaps)
	}
	judged := j.seam.Gap.Judged || j.seam.Flush.Judged || j.seam.Taper.Judged
	if j.seam.Taper.Judged {
		t := j.seam.Taper
		r.TaperVerdict = verdict.Decide(r.Taper, verdict.Tolerance{Lo: t.Nominal + t.Tolerance.Lo, Hi: t.Nominal + t.Tolerance.Hi})
	}
	r.Verdict = verdict.Worst(worst, r.TaperVerdict)
	if missing, tooMany := r.Missing(); tooMany {
		r.Verdict = verdict.Worst(r.Verdict, verdict.Undecided)
		j.note("%d of %d stations have no number, more than a tenth: the seam is undecided at best.", missing, len(r.Stations))
	}
	if judged && j.path.full < j.seam.Every && j.seam.Whole == "" {
		r.Verdict = verdict.Worst(r.Verdict, verdict.Undecided)
	}
	if len(gaps)+len(flushes) > 0 {
		return
	}
	if judged {
		r.Verdict = verdict.Undecided
	}
	// Without a number nothing was taken for one.
	r.Notes = slices.DeleteFunc(r.Notes, func(n string) bool { return slices.Contains(j.assumed, n) })
}

// shared reports whether a source of error moves all stations of a seam together.
func shared(source string) bool {
	switch strings.TrimRight(source, "AB") { // a side's cause ends in its letter
	case "curvature of face ", "radius of edge ", "face carried on to shoulder ", "end of face ", "nose carried on ", "smoothing of the scan ", "thinning of the scan ",
		"form of edge ", "shortness of arc ", "edge seen grazingly ":
		return true
	}
	switch source {
	case "form of the edges", "flanges carried on", "scale of the scan", "temperature":
		return true
	}
	return false
}

// spanOf returns mean, smallest and largest. The mean's uncertainty averages
// out what stations have of their own and keeps what the seam shares.
func spanOf(st []Station, pick func(*Station) (verdict.Value, []BudgetLine)) (mean, lo, hi verdict.Value) {
	if len(st) == 0 {
		return
	}
	n := float64(len(st))
	own, common := 0.0, 0.0
	for i := range st {
		v, lines := pick(&st[i])
		mean.V += v.V / n
		for _, l := range lines {
			if shared(l.Source) {
				common += l.U * l.U / n
			} else {
				own += l.U * l.U / (n * n)
			}
		}
		if i == 0 || v.V < lo.V {
			lo = v
		}
		if i == 0 || v.V > hi.V {
			hi = v
		}
	}
	mean.U, mean.OK = 2*math.Sqrt(own+common), true
	return mean, lo, hi
}

// taper is the slope of the least-squares line of gap over arc length, in mm
// per 100 mm. Its uncertainty is the larger of what the stations' own
// uncertainties give and what the scatter about the line gives: a seam that
// waves has no sharp taper.
func taper(st []Station) verdict.Value {
	n := float64(len(st))
	if len(st) < 3 {
		return verdict.Value{}
	}
	ms, mg := 0.0, 0.0
	for i := range st {
		ms += st[i].Along / n
		mg += st[i].Gap.V / n
	}
	sxx, sxy := 0.0, 0.0
	for i := range st {
		d := st[i].Along - ms
		sxx += float64(d * d)
		sxy += float64(d * (st[i].Gap.V - mg))
	}
	if sxx == 0 {
		return verdict.Value{}
	}
	slope := sxy / sxx
	stated, scatter := 0.0, 0.0
	for i := range st {
		d := st[i].Along - ms
		e := st[i].Gap.V - mg - float64(slope*d)
		scatter += float64(e * e)
		u := st[i].Gap.U / 2
		stated += float64(d * d * u * u)
	}
	u := max(math.Sqrt(stated)/sxx, math.Sqrt(scatter/(n-2)/sxx))
	return verdict.Value{V: 100 * slope, U: 200 * u, OK: true}
}

// TakenElsewhere forgets what was noted of gaps that the reference gives no nominal of, as they come from elsewhere.
func (r *Result) TakenElsewhere() {
	r.Notes = slices.DeleteFunc(slices.Clone(r.Notes), func(said string) bool { return r.short != "" && said == r.short })
}

// NoteNominal notes where the nominal gap, or flush, comes from when that is another seam, or why there is none, in place of what it noted of
// that before: a result that holds is given its nominals anew when the other seam has changed.
func (r *Result) NoteNominal(flush bool, said string) {
	before := &r.elsewhere[0]
	if flush {
		before = &r.elsewhere[1]
	}
	r.Notes = append(slices.DeleteFunc(slices.Clone(r.Notes), func(n string) bool { return *before != "" && n == *before }), said)
	*before = said
}

// compareNominals says where a typed nominal and the reference differ by more
// than a tenth of the tolerance.
func (j *job) compareNominals() {
	if j.ref == nil {
		return
	}
	short := 0
	for i := range j.ref {
		if o := &j.ref[i]; o.state == Measured {
			if !o.side[A].edge.toldWhole() || !o.side[B].edge.toldWhole() {
				short++
			}
		}
	}
	// A reference that is a scan gives nominals as it is measured itself, not by what was seen here.
	if short > 0 && !j.set.Scanned && j.seam.Gap.Judged && !j.seam.Gap.HasNominal {
		j.result.short = fmt.Sprintf("At %d of %d stations the reference does not show both edges to their noses, so it gives no nominal of the gap there: type it.", short, len(j.ref))
		j.note("%s", j.result.short)
	}
	check := func(name string, t Target, own *verdict.Value, pick func(figures) float64, need State) {
		if !t.HasNominal || !t.Judged {
			return
		}
		var d []float64
		for i := range j.ref {
			o := &j.ref[i]
			if o.state == Measured || (o.state == NoseUnseen && need == NoseUnseen) {
				g := evaluate(&o.side, &[2][5]float64{}, j.seam.Master)
				d = append(d, pick(g)-t.Nominal)
			}
		}
		if len(d) > 0 {
			*own = verdict.Value{V: median(d) + t.Nominal, OK: true}
		}
		if m := median(d); len(d) > 0 && math.Abs(m) > (t.Tolerance.Hi-t.Tolerance.Lo)/10 {
			j.note("The %s nominal of %.2f mm differs from the reference by %s mm (median), more than a tenth of the tolerance.", name, t.Nominal, strings.ReplaceAll(fmt.Sprintf("%+.2f", -m), "-", "−"))
		}
	}
	check("gap", j.seam.Gap, &j.refGap, func(f figures) float64 { return f.gap }, Measured)
	check("flush", j.seam.Flush, &j.refFlush, func(f figures) float64 { return f.flush }, NoseUnseen)
}
