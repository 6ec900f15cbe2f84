package words

import (
	"math"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// ends returns the first and the last station with a number, and how many have one; first is -1 for none.
func ends(r *gapflush.Result, f figure) (first, last, n int) {
	first, last = -1, -1
	for i := range r.Stations {
		if f.known(&r.Stations[i]) {
			if first < 0 {
				first = i
			}
			last = i
			n++
		}
	}
	return first, last, n
}

// course says how the gap runs from the first station that has one to the last.
// A course is only claimed when the ends differ by more than their uncertainties
// together, and every figure is said of the stations that carry it.
func (w Writer) course(c *Card, k int, r *gapflush.Result) {
	first, last, n := ends(r, gapOf(r))
	if first < 0 {
		c.add(w.say("seam.nogap", "No station of this seam gave a gap.", nil))
		w.held(c, r)
		w.flushCourse(c, k, r)
		w.means(c, r, n)
		return
	}
	a, b := r.Stations[first].Gap, r.Stations[last].Gap
	data := fields{"A": WithU(a, "mm"), "B": WithU(b, "mm"), "N": n, "All": len(r.Stations),
		"First": r.Stations[first].Index, "Last": r.Stations[last].Index,
		"From": tenths(r.Stations[first].Along), "To": tenths(r.Stations[last].Along)}
	switch grows := b.V - a.V; {
	case last == first:
		c.at(w.say("seam.single", "Only station {{.First}} of {{.All}} has a gap, {{.A}}: nothing is known of how the gap runs.", data), Place{k, first})
	case grows > a.U+b.U:
		c.at(w.say("seam.opens", "The gap opens from {{.A}} at station {{.First}} ({{.From}} mm along) to {{.B}} at station {{.Last}} ({{.To}} mm).", data), Place{k, last})
	case -grows > a.U+b.U:
		c.at(w.say("seam.closes", "The gap closes from {{.A}} at station {{.First}} ({{.From}} mm along) to {{.B}} at station {{.Last}} ({{.To}} mm).", data), Place{k, last})
	default:
		c.add(w.say("seam.even", "The gap is as wide at station {{.Last}} ({{.B}}, {{.To}} mm along) as at station {{.First}} ({{.A}}, {{.From}} mm), as far as this scan can tell.", data))
	}
	// Two ends say little of what lies between when most of that is unknown.
	if between := last - first - 1; last > first && 2*(between-(n-2)) > between {
		data["Lost"], data["Between"] = between-(n-2), between
		c.add(w.say("seam.course.unknown", "Between the two, {{.Lost}} of {{.Between}} stations have no gap: how it runs there is not known.", data))
	}
	w.taper(c, k, r, data)
	w.held(c, r)
	w.flushCourse(c, k, r)
	w.means(c, r, n)
}

func (w Writer) taper(c *Card, k int, r *gapflush.Result, data fields) {
	if !r.Taper.OK {
		return
	}
	data["Taper"], data["Verdict"] = WithU(r.Taper, "mm per 100 mm"), w.Verdict(r.TaperVerdict)
	if r.TaperVerdict != verdict.NotJudged {
		c.add(w.say("seam.taper.judged", "Taper {{.Taper}}, one line through the gaps of {{.N}} of {{.All}} stations from {{.From}} to {{.To}} mm: {{.Verdict}}.", data))
	} else {
		c.add(w.say("seam.taper", "Taper {{.Taper}}, one line through the gaps of {{.N}} of {{.All}} stations from {{.From}} to {{.To}} mm.", data))
	}
	s, ok := steepest(r)
	over := 0.0 // mm, of the stretches that the taper's tolerance holds for, too
	for _, check := range r.Checks {
		over = max(over, check.Over)
	}
	if over > 0 && over <= slidingLength { // what is judged says where it is steepest
		return
	}
	if !ok || math.Abs(s.taper.V-r.Taper.V) <= s.taper.U+r.Taper.U {
		return
	}
	data["Taper"], data["N"] = WithU(s.taper, "mm per 100 mm"), s.n
	data["From"], data["To"] = tenths(r.Stations[s.first].Along), tenths(r.Stations[s.last].Along)
	data["Length"] = tenths(r.Stations[s.last].Along - r.Stations[s.first].Along)
	said := w.say("seam.steepest", "That line hides a bend: the steepest stretch of {{.Length}} mm, {{.N}} stations from {{.From}} to {{.To}} mm, has a taper of {{.Taper}}.", data)
	if t := r.Seam.Taper; t.Judged {
		judged := w.say("seam.steepest.whole", "the verdict is on the whole line", nil)
		if over > 0 {
			judged = w.say("seam.steepest.over", "the verdict is on the whole line and on every stretch of {{.Over}} mm", fields{"Over": tenths(over)})
		}
		data["Judged"] = judged
		switch verdict.Decide(s.taper, verdict.Tolerance{Lo: t.Nominal + t.Tolerance.Lo, Hi: t.Nominal + t.Tolerance.Hi}) {
		case verdict.DoesNotConform:
			said += " " + w.say("seam.steepest.bad", "Taken alone that is out of the taper's tolerance; {{.Judged}}.", data)
		case verdict.Undecided:
			said += " " + w.say("seam.steepest.open", "Taken alone that would be undecided; {{.Judged}}.", data)
		}
	}
	c.at(said, Place{k, s.last})
}

// flushCourse says between what the flush lies, where that is more than its uncertainty and no stretch of it was told to be out.
func (w Writer) flushCourse(c *Card, k int, r *gapflush.Result) {
	if len(stretches(r, flushOf(r))) > 0 {
		return
	}
	lo, hi := -1, -1
	for i := range r.Stations {
		f := &r.Stations[i].Flush
		if !f.OK {
			continue
		}
		if lo < 0 || f.V < r.Stations[lo].Flush.V {
			lo = i
		}
		if hi < 0 || f.V > r.Stations[hi].Flush.V {
			hi = i
		}
	}
	if lo < 0 {
		return
	}
	a, b := &r.Stations[lo], &r.Stations[hi]
	if b.Flush.V-a.Flush.V <= a.Flush.U+b.Flush.U {
		return
	}
	data := fields{"Lo": WithU(a.Flush, "mm"), "Hi": WithU(b.Flush, "mm"), "First": a.Index, "Last": b.Index, "From": tenths(a.Along), "To": tenths(b.Along)}
	c.at(w.say("seam.flush.between", "The flush lies between {{.Lo}} at station {{.First}} ({{.From}} mm along) and {{.Hi}} at station {{.Last}} ({{.To}} mm).", data), Place{k, hi})
}

// means says the averages, over how many stations, and why their U is another.
func (w Writer) means(c *Card, r *gapflush.Result, gaps int) {
	_, _, flushes := ends(r, flushOf(r))
	data := fields{"Gap": WithU(r.GapMean, "mm"), "Flush": WithU(r.FlushMean, "mm"), "Gaps": gaps, "Flushes": flushes, "All": len(r.Stations)}
	switch {
	case gaps > 1 && flushes > 1 && r.GapMean.OK && r.FlushMean.OK:
		c.add(w.say("seam.means", "On average the gap is {{.Gap}} over {{.Gaps}} of {{.All}} stations and the flush {{.Flush}} over {{.Flushes}}.", data))
	case gaps > 1 && r.GapMean.OK:
		c.add(w.say("seam.means.gap", "On average the gap is {{.Gap}} over {{.Gaps}} of {{.All}} stations.", data))
	case flushes > 1 && r.FlushMean.OK:
		c.add(w.say("seam.means.flush", "On average the flush is {{.Flush}} over {{.Flushes}} of {{.All}} stations.", data))
	default:
		return
	}
	c.add(w.say("seam.means.u", "The U of a mean is not a station's: what each station has of its own averages out, what the seam shares (radii assumed, edges carried on, curvature, scale) does not.", nil))
}

const (
	// slidingLength, mm, is the stretch over which a gap is looked at for a bend
	// that one line through the whole seam hides: at the usual 25 mm a dozen
	// stations, enough for a slope, and less than half of a door's shut line.
	slidingLength = 300.0
	// leastSliding is how much of that length, and how many stations, a slope needs to stand for it.
	leastSliding, leastInSliding = 2.0 / 3, 5
)

// slide is the taper of a part of a seam.
type slide struct {
	first, last, n int // indices in Stations, stations with a gap
	taper          verdict.Value
}

// steepest returns the stretch of slidingLength whose taper is the largest either
// way; where its ends have no gap it is shorter, down to leastSliding of that. It is
// false where the gaps known do not reach over more than that.
func steepest(r *gapflush.Result) (slide, bool) {
	first, last, _ := ends(r, gapOf(r))
	best, found := slide{}, false
	if first < 0 || r.Stations[last].Along-r.Stations[first].Along <= slidingLength {
		return best, false
	}
	for i := range r.Stations {
		if !r.Stations[i].Gap.OK || r.Stations[i].Along+slidingLength > r.Stations[last].Along {
			continue
		}
		s := slide{first: i}
		for j := i; j < len(r.Stations) && r.Stations[j].Along-r.Stations[i].Along <= slidingLength; j++ {
			if r.Stations[j].Gap.OK {
				s.last = j
				s.n++
			}
		}
		if s.n < leastInSliding || r.Stations[s.last].Along-r.Stations[i].Along < leastSliding*slidingLength {
			continue
		}
		s.taper = taperOf(r.Stations[i : s.last+1])
		if s.taper.OK && (!found || math.Abs(s.taper.V) > math.Abs(best.taper.V)) {
			best, found = s, true
		}
	}
	return best, found
}

// taperOf is the slope of the least-squares line through the gaps known, mm per
// 100 mm. As for a whole seam its U is the larger of what the stations' own
// uncertainties give and what the scatter about the line gives.
func taperOf(st []gapflush.Station) verdict.Value {
	n, ms, mg := 0.0, 0.0, 0.0
	for i := range st {
		if st[i].Gap.OK {
			n, ms, mg = n+1, ms+st[i].Along, mg+st[i].Gap.V
		}
	}
	if n < 3 {
		return verdict.Value{}
	}
	ms, mg = ms/n, mg/n
	sxx, sxy := 0.0, 0.0
	for i := range st {
		if st[i].Gap.OK {
			d := st[i].Along - ms
			sxx += float64(d * d)
			sxy += float64(d * (st[i].Gap.V - mg))
		}
	}
	if !(sxx > 0) {
		return verdict.Value{}
	}
	slope, stated, scatter := sxy/sxx, 0.0, 0.0
	for i := range st {
		if st[i].Gap.OK {
			d, u := st[i].Along-ms, st[i].Gap.U/2
			e := st[i].Gap.V - mg - float64(slope*d)
			scatter += float64(e * e)
			stated += float64(d * d * u * u)
		}
	}
	u := max(math.Sqrt(stated)/sxx, math.Sqrt(scatter/(n-2)/sxx))
	return verdict.Value{V: 100 * slope, U: 200 * u, OK: true}
}
