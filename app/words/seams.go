package words

import (
	"math"
	"strings"

	"shutline/app"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Panels returns what the two sides of a seam are called: a seam named "wing to
// door" parts the wing (side A) from the door (side B).
func (w Writer) Panels(seam gapflush.Seam) [2]string {
	a, b, ok := strings.Cut(seam.Name, " to ")
	if ok && a != "" && b != "" {
		return [2]string{w.say("seam.the", "the {{.Panel}}", fields{"Panel": a}), w.say("seam.the", "the {{.Panel}}", fields{"Panel": b})}
	}
	return [2]string{w.say("seam.side.a", "side A", nil), w.say("seam.side.b", "side B", nil)}
}

// Seam words a seam's result; k is the seam's number in the job.
func (w Writer) Seam(k int, r *gapflush.Result) Card {
	panels := w.Panels(r.Seam)
	other, master := panels[1-r.Seam.Master], panels[r.Seam.Master]
	out := 0
	for i := range r.Stations {
		if fails(&r.Stations[i]) {
			out++
		}
	}
	data := fields{"Out": out, "N": len(r.Stations), "Measured": r.Measured, "Other": other, "Master": master}
	c := Card{Verdict: r.Verdict}
	switch r.Verdict {
	case verdict.Conforms:
		c.Headline = w.say("seam.good", "Gap and flush are inside their tolerances at all {{.Measured}} stations measured", data)
	case verdict.DoesNotConform:
		c.Headline = w.say("seam.bad", "{{.Out}} of {{.N}} stations are out of tolerance", data)
		if out == 0 {
			c.Headline = w.say("seam.bad.taper", "The gap does not run parallel", data)
		}
	case verdict.Undecided:
		c.Headline = w.say("seam.open", "The seam cannot be decided with this scan", data)
	default:
		c.Headline = w.say("seam.reported", "{{.Measured}} of {{.N}} stations are measured", data)
	}
	for _, s := range stretches(r, flushOut) {
		w.flushStretch(&c, k, r, s, other, master)
	}
	for _, s := range stretches(r, gapOut) {
		w.gapStretch(&c, k, r, s)
	}
	w.course(&c, k, r)
	w.missing(&c, k, r)
	for _, n := range r.Notes {
		c.add(capital(n))
	}
	w.seamNext(&c, r, other, master)
	return c
}

func fails(s *gapflush.Station) bool {
	return s.GapVerdict == verdict.DoesNotConform || s.FlushVerdict == verdict.DoesNotConform
}

// stretch is a run of neighbouring stations that are out on the same side, and the worst of them.
type stretch struct {
	first, last, worst int
	side               int // +1 above the tolerance, -1 below
}

// flushOut and gapOut return +1 or -1 when a station is out, 0 when not, and by how much it is off its nominal.
func flushOut(s *gapflush.Station) (side int, off float64) {
	return outOf(s.Flush, s.FlushNominal, s.FlushVerdict)
}

func gapOut(s *gapflush.Station) (side int, off float64) {
	return outOf(s.Gap, s.GapNominal, s.GapVerdict)
}

func outOf(x, nominal verdict.Value, v verdict.Verdict) (int, float64) {
	if v != verdict.DoesNotConform || !x.OK || !nominal.OK {
		return 0, 0
	}
	if off := x.V - nominal.V; off > 0 {
		return 1, off
	} else {
		return -1, off
	}
}

func stretches(r *gapflush.Result, out func(*gapflush.Station) (int, float64)) []stretch {
	var list []stretch
	worst := 0.0
	for i := range r.Stations {
		side, off := out(&r.Stations[i])
		if side == 0 {
			continue
		}
		n := len(list) - 1
		if n < 0 || list[n].last != i-1 || list[n].side != side {
			list = append(list, stretch{i, i, i, side})
			worst = math.Abs(off)
			continue
		}
		list[n].last = i
		if math.Abs(off) > worst {
			list[n].worst, worst = i, math.Abs(off)
		}
	}
	return list
}

// span is the length a stretch stands for: half a step beyond its stations on either side.
func (s stretch) span(r *gapflush.Result) fields {
	half := r.Seam.Every / 2
	from, to := max(0, r.Stations[s.first].Along-half), r.Stations[s.last].Along+half
	return fields{"From": fixed(from, 0), "To": fixed(to, 0), "Length": MM(to - from)}
}

func (w Writer) flushStretch(c *Card, k int, r *gapflush.Result, s stretch, other, master string) {
	st := &r.Stations[s.worst]
	data := s.span(r)
	data["Other"], data["Master"] = capitalWord(other), master
	x := st.Flush
	data["Nominal"] = Signed(st.FlushNominal.V)
	data["MM"] = WithU(verdict.Value{V: math.Abs(x.V), U: x.U, OK: x.OK}, "mm")
	said := w.say("seam.proud", "{{.Other}} stands up to {{.MM}} proud of {{.Master}} over {{.Length}} (from {{.From}} to {{.To}} mm along the seam; wanted {{.Nominal}}).", data)
	if x.V < 0 {
		said = w.say("seam.low", "{{.Other}} sits up to {{.MM}} below {{.Master}} over {{.Length}} (from {{.From}} to {{.To}} mm along the seam; wanted {{.Nominal}}).", data)
	}
	c.at(said, Place{k, s.worst})
}

func (w Writer) gapStretch(c *Card, k int, r *gapflush.Result, s stretch) {
	st := &r.Stations[s.worst]
	data := s.span(r)
	data["MM"], data["Nominal"] = WithU(st.Gap, "mm"), MM(st.GapNominal.V)
	said := w.say("seam.wide", "The gap is too wide over {{.Length}} (from {{.From}} to {{.To}} mm along the seam): up to {{.MM}} where {{.Nominal}} is wanted.", data)
	if s.side < 0 {
		said = w.say("seam.narrow", "The gap is too narrow over {{.Length}} (from {{.From}} to {{.To}} mm along the seam): down to {{.MM}} where {{.Nominal}} is wanted.", data)
	}
	c.at(said, Place{k, s.worst})
}

// course words how the gap runs from the first measured station to the last.
func (w Writer) course(c *Card, k int, r *gapflush.Result) {
	first, last := -1, -1
	for i := range r.Stations {
		if r.Stations[i].Gap.OK {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		c.add(w.say("seam.nogap", "No station of this seam gave a gap.", nil))
		return
	}
	a, b := r.Stations[first].Gap, r.Stations[last].Gap
	data := fields{"A": WithU(a, "mm"), "B": WithU(b, "mm"), "Taper": WithU(r.Taper, "mm per 100 mm"), "Verdict": w.Verdict(r.TaperVerdict),
		"Mean": WithU(r.GapMean, "mm"), "Flush": WithU(r.FlushMean, "mm")}
	switch grows := b.V - a.V; {
	case last == first:
	case grows > a.U+b.U:
		c.at(w.say("seam.opens", "The gap opens from {{.A}} at the start to {{.B}} at the end.", data), Place{k, last})
	case -grows > a.U+b.U:
		c.at(w.say("seam.closes", "The gap closes from {{.A}} at the start to {{.B}} at the end.", data), Place{k, last})
	default:
		c.add(w.say("seam.even", "The gap is as wide at the end ({{.B}}) as at the start ({{.A}}), as far as this scan can tell.", data))
	}
	if r.Taper.OK {
		if r.TaperVerdict != verdict.NotJudged {
			c.add(w.say("seam.taper.judged", "Taper {{.Taper}}: {{.Verdict}}.", data))
		} else {
			c.add(w.say("seam.taper", "Taper {{.Taper}}.", data))
		}
	}
	c.add(w.say("seam.means", "On average the gap is {{.Mean}} and the flush {{.Flush}}.", data))
}

// missing words the stations without a gap, state by state, in the order they appear.
func (w Writer) missing(c *Card, k int, r *gapflush.Result) {
	var order []gapflush.State
	count, first := map[gapflush.State]int{}, map[gapflush.State]int{}
	for i := range r.Stations {
		s := r.Stations[i].State
		if s == gapflush.Measured {
			continue
		}
		if count[s] == 0 {
			order = append(order, s)
			first[s] = i
		}
		count[s]++
	}
	for _, s := range order {
		data := fields{"N": count[s], "Why": w.StationState(s)}
		c.at(w.say("seam.missing", "Stations without a gap: {{.N}}, as {{.Why}}.", data), Place{k, first[s]})
	}
}

// StationState says what a station's state means.
func (w Writer) StationState(s gapflush.State) string {
	switch s {
	case gapflush.Measured:
		return w.say("state.measured", "measured", nil)
	case gapflush.NoseUnseen:
		return w.say("state.nose-unseen", "the scan does not reach round an edge, so only the flush is known", nil)
	case gapflush.SideMissing:
		return w.say("state.side-missing", "one panel is not in the scan there", nil)
	case gapflush.Bridged:
		return w.say("state.bridged", "the scan runs across the gap without a break", nil)
	case gapflush.TwoSkins:
		return w.say("state.two-skins", "two skins lie over one another and it cannot be told which is outside", nil)
	case gapflush.NoFace:
		return w.say("state.no-face", "there is no face behind the edge to measure from", nil)
	case gapflush.TooCoarse:
		return w.say("state.too-coarse", "the points lie further apart than the edge is round", nil)
	case gapflush.ThirdPanel:
		return w.say("state.third-panel", "a third panel reaches into the face", nil)
	case gapflush.NotParallel:
		return w.say("state.not-parallel", "the two edges run apart by more than 15°", nil)
	case gapflush.OffPath:
		return w.say("state.off-path", "there is no seam where the path runs", nil)
	}
	return string(s)
}

func (w Writer) seamNext(c *Card, r *gapflush.Result, other, master string) {
	data := fields{"Other": other, "Master": master}
	switch {
	case len(stretches(r, flushOut)) > 0:
		c.next(w.say("seam.next.flush", "Check the mounts of {{.Other}} nearest to the worst station before you rework metal; {{.Master}} was taken as the side that stays.", data))
	case r.TaperVerdict == verdict.DoesNotConform:
		c.next(w.say("seam.next.taper", "A gap that runs to a wedge is mostly a turned panel: loosen {{.Other}} and turn it before you shift it.", data))
	case len(stretches(r, gapOut)) > 0:
		c.next(w.say("seam.next.gap", "Shift {{.Other}} square to the seam, then scan this seam again.", data))
	case r.Verdict == verdict.Undecided:
		c.next(w.say("seam.next.open", "Scan this seam again, closer and from both sides, so that the edges are seen.", nil))
	default:
		c.next(w.say("seam.next.good", "Nothing to do here. Walk the stations with the left and right arrow keys, or write the evidence.", nil))
	}
}

// Station words one station in short sentences.
func (w Writer) Station(r *gapflush.Result, s *gapflush.Station) []string {
	data := fields{"K": s.Index, "Along": MM(s.Along), "Gap": WithU(s.Gap, "mm"), "Flush": WithU(s.Flush, "mm"), "Feeler": WithU(s.Feeler, "mm"),
		"GapVerdict": w.Verdict(s.GapVerdict), "FlushVerdict": w.Verdict(s.FlushVerdict), "GapNominal": MM(s.GapNominal.V), "FlushNominal": Signed(s.FlushNominal.V)}
	lines := []string{}
	switch {
	case s.Gap.OK && s.GapNominal.OK:
		lines = append(lines, w.say("station.gap.judged", "Gap {{.Gap}} (wanted {{.GapNominal}}): {{.GapVerdict}}", data))
	case s.Gap.OK:
		lines = append(lines, w.say("station.gap", "Gap {{.Gap}}", data))
	default:
		why := s.Why
		if why == "" {
			why = w.StationState(s.State)
		}
		data["Why"] = why
		lines = append(lines, w.say("station.nogap", "No gap: {{.Why}}", data))
	}
	switch {
	case s.Flush.OK && s.FlushNominal.OK:
		lines = append(lines, w.say("station.flush.judged", "Flush {{.Flush}} (wanted {{.FlushNominal}}): {{.FlushVerdict}}", data))
	case s.Flush.OK:
		lines = append(lines, w.say("station.flush", "Flush {{.Flush}}", data))
	}
	if s.Feeler.OK {
		lines = append(lines, w.say("station.feeler", "A feeler gauge would find {{.Feeler}}", data))
	}
	return lines
}

// Lengths words the known lengths.
func (w Writer) Lengths(c *Card, lengths []app.Length) {
	for _, l := range lengths {
		data := fields{"Name": l.Spec.Name, "MM": WithU(l.Measured, "mm"), "Error": WithU(l.Error, "mm"), "PPM": fixed(l.ErrorPPM, 0), "Why": l.Why, "Verdict": w.Verdict(l.Verdict)}
		switch {
		case !l.Measured.OK:
			c.add(w.say("length.none", "The known length {{.Name}} has no value: {{.Why}}.", data))
		case l.Judged:
			c.add(w.say("length.judged", "The known length {{.Name}} reads {{.MM}}, off by {{.Error}} ({{.PPM}} ppm): {{.Verdict}}.", data))
		default:
			c.add(w.say("length", "The known length {{.Name}} reads {{.MM}}, off by {{.Error}} ({{.PPM}} ppm).", data))
		}
	}
}

func capitalWord(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
