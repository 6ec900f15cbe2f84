package words

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"shutline/app"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Panels returns what the two sides of a seam are called in a sentence: by their letters, and by the panels'
// names where the seam's name has them.
func (w Writer) Panels(seam gapflush.Seam) [2]string {
	if panels, ok := seam.Panels(); ok {
		return [2]string{w.say("seam.the", "the {{.Panel}} (side {{.Side}})", fields{"Panel": panels[0], "Side": "A"}), w.say("seam.the", "the {{.Panel}} (side {{.Side}})", fields{"Panel": panels[1], "Side": "B"})}
	}
	return [2]string{w.say("seam.side.a", "side A", nil), w.say("seam.side.b", "side B", nil)}
}

// Seam words a seam's result; k is the seam's number in the job.
func (w Writer) Seam(k int, r *gapflush.Result) Card {
	if r.Unlaid != "" {
		return w.unlaid(r)
	}
	panels := w.Panels(r.Seam)
	other, master := panels[1-r.Seam.Master], panels[r.Seam.Master]
	c := Card{Verdict: r.Verdict, Headline: w.seamHeadline(r)}
	if said := r.Words(); len(said) > 0 && w.Translate == nil {
		c.Judged = said[0]
	}
	// What would turn every sign round comes before the signs, and what is wanted is not as it seems before what is off from it.
	reversed := w.reversed(&c, r)
	w.exchanged(&c, r)
	for _, n := range r.Notes {
		if tellsFirst(r, n) {
			c.add(capital(n))
		}
	}
	for _, s := range stretches(r, flushOf(r)) {
		w.flushStretch(&c, k, r, s, other, master)
	}
	for _, s := range stretches(r, gapOf(r)) {
		w.gapStretch(&c, k, r, s)
	}
	if !reversed {
		w.sides(&c, r)
	}
	w.twice(&c, r)
	w.course(&c, k, r)
	w.missing(&c, k, r)
	for _, n := range r.Notes {
		if tellsFirst(r, n) {
			continue
		}
		// A seam that does not conform is not "undecided at best" too: there is one verdict, and what is missing has been said.
		if r.Verdict != verdict.DoesNotConform || !strings.Contains(n, "undecided at best") {
			c.add(capital(n))
		}
	}
	for _, d := range app.UnacceptableSeam(r) {
		c.add(w.doubtful(d))
	}
	w.seamNext(&c, r, other, master)
	c.Lacks = r.Measured < len(r.Stations)
	return c
}

// seamHeadline says what came of a seam as a whole.
func (w Writer) seamHeadline(r *gapflush.Result) string {
	out, without := 0, 0 // one that is out for its flush may have no gap: every station counts for all that it is
	for i := range r.Stations {
		if fails(&r.Stations[i]) {
			out++
		}
		if !r.Stations[i].Gap.OK {
			without++
		}
	}
	open := undecided(r)
	data := fields{"Out": out, "N": len(r.Stations), "Measured": r.Measured, "Without": without, "Open": open}
	switch {
	case w.elsewhere(r):
		return w.say("seam.astray", "Nothing of the scan lies where this seam is: the scan is not placed on the reference", data)
	case r.Open && r.Verdict == verdict.Undecided:
		return w.say("seam.open.place", "Where the seam was cut hangs on an ambiguous placement: nothing is decided", data)
	case r.Verdict == verdict.Conforms && !(r.Seam.Gap.Judged && r.Seam.Flush.Judged):
		return w.partly(r, data)
	case r.Verdict == verdict.Conforms && without == 0:
		return w.say("seam.good", "Gap and flush are inside their tolerances at all {{.N}} stations", data)
	case r.Verdict == verdict.Conforms:
		return w.say("seam.good.some", "Gap and flush are inside their tolerances where they are known; {{.Without}} of {{.N}} stations {{if eq .Without 1}}has{{else}}have{{end}} no gap", data)
	case r.Verdict == verdict.DoesNotConform && out == 0:
		data["What"] = w.whole(r, verdict.DoesNotConform)
		return w.say("seam.bad.whole", "Out of tolerance: {{.What}}; no station is", data)
	case r.Verdict == verdict.DoesNotConform && open > 0 && without > 0:
		return w.say("seam.bad.open.some", "{{.Out}} of {{.N}} stations are out of tolerance, {{.Open}} {{if eq .Open 1}}is{{else}}are{{end}} undecided, {{.Without}} {{if eq .Without 1}}has{{else}}have{{end}} no gap", data)
	case r.Verdict == verdict.DoesNotConform && open > 0:
		return w.say("seam.bad.open", "{{.Out}} of {{.N}} stations are out of tolerance, {{.Open}} {{if eq .Open 1}}is{{else}}are{{end}} undecided", data)
	case r.Verdict == verdict.DoesNotConform && without > 0:
		return w.say("seam.bad.some", "{{.Out}} of {{.N}} stations are out of tolerance, {{.Without}} {{if eq .Without 1}}has{{else}}have{{end}} no gap", data)
	case r.Verdict == verdict.DoesNotConform:
		return w.say("seam.bad", "{{.Out}} of {{.N}} stations are out of tolerance", data)
	case r.Verdict == verdict.Undecided && len(r.HangsOn()) > 0:
		data["What"] = w.whole(r, verdict.Undecided)
		return w.say("seam.open.whole", "Undecided: {{.What}}; no station is", data)
	case r.Verdict == verdict.Undecided && r.Unlaid == "" && (mostlyNear(r, without) || nearLimit(r) > 0 && !tooFew(r) && unjudged(r) == 0):
		data["Near"] = nearLimit(r)
		return w.say("seam.open.near", "The seam cannot be decided with this scan: {{.Near}} of {{.N}} stations {{if eq .Near 1}}lies{{else}}lie{{end}} within U of a limit", data)
	case r.Verdict == verdict.Undecided && unjudged(r) > 0:
		data["None"] = unjudged(r)
		return w.say("seam.open.nominal", "The seam cannot be decided: at {{.None}} of {{.N}} stations there is no nominal to judge by", data)
	case r.Verdict == verdict.Undecided && without > 0:
		return w.say("seam.open.some", "The seam cannot be decided with this scan: {{.Without}} of {{.N}} stations {{if eq .Without 1}}has{{else}}have{{end}} no gap", data)
	case r.Verdict == verdict.Undecided:
		return w.say("seam.open", "The seam cannot be decided with this scan", data)
	}
	return w.say("seam.reported", "{{.Measured}} of {{.N}} stations are measured", data)
}

// elsewhere reports whether most stations have no number at all since the scan lies elsewhere than the reference.
func (w Writer) elsewhere(r *gapflush.Result) bool {
	none := 0
	for i := range r.Stations {
		if s := &r.Stations[i]; !s.Gap.OK && !s.Flush.OK {
			none++
		}
	}
	return w.Astray && 2*none > len(r.Stations)
}

// tooFew reports whether so many stations have no number that these alone leave a seam open.
func tooFew(r *gapflush.Result) bool {
	_, tooMany := r.Missing()
	return tooMany
}

// whole names what of the seam as a whole, its taper and its checks, has a verdict.
func (w Writer) whole(r *gapflush.Result, v verdict.Verdict) string {
	var names []string
	if r.TaperVerdict == v {
		names = append(names, w.say("check.taper.all", "taper", nil))
	}
	for _, k := range r.Checks {
		if k.Verdict == v {
			names = append(names, w.checkKind(k))
		}
	}
	return w.list(names)
}

// tellsTurned reports whether a note says that the seam's path was turned round, and with it that its sides are exchanged.
func tellsTurned(note string) bool { return strings.HasPrefix(note, "The path was turned round") }

// tellsOrder reports whether a note says that points of the path are in the wrong order, which every length along the seam hangs on.
func tellsOrder(r *gapflush.Result, note string) bool {
	return r.Misplaced[1] > 0 && strings.HasPrefix(note, "Points ") && strings.Contains(note, "seem to be in the wrong order")
}

// tellsFirst reports whether a note is told before what was found: how that is to be read hangs on it.
func tellsFirst(r *gapflush.Result, note string) bool {
	return tellsTurned(note) || tellsOrder(r, note) || r.Measured > 0 && strings.Contains(note, " nominal")
}

// unlaid words a seam that could not be traced or found: the reason ends with what to change.
func (w Writer) unlaid(r *gapflush.Result) Card {
	c := Card{Verdict: r.Verdict, Lacks: true}
	c.Headline = w.say("seam.unlaid", "This seam was not measured", nil)
	c.add(w.say("seam.unlaid.why", "No value, because {{.Why}}.", fields{"Why": inside(r.Unlaid)}))
	if w.Astray {
		c.next(w.placeFirst())
		return c
	}
	c.next(w.say("seam.unlaid.next", "Change what is said above; the other seams are measured all the same.", nil))
	return c
}

// partly words a seam of which what was judged conforms, and the rest was not judged.
func (w Writer) partly(r *gapflush.Result, data fields) string {
	switch {
	case r.Seam.Gap.Judged:
		return w.say("seam.good.gap", "The gap is inside its tolerance where it is known, at {{.Measured}} of {{.N}} stations; the flush was not judged", data)
	case r.Seam.Flush.Judged:
		return w.say("seam.good.flush", "The flush is inside its tolerance where it is known; the gap was not judged", data)
	case r.TaperVerdict == verdict.NotJudged:
		data["What"] = w.whole(r, verdict.Conforms)
		return w.say("seam.good.whole", "In tolerance: {{.What}}; neither the gap's width nor the flush was judged", data)
	}
	return w.say("seam.good.taper", "The gap runs as parallel as wanted; neither its width nor the flush was judged", data)
}

// seamNext says what would bring the seam to its nominals, then what would bring the numbers that are missing.
func (w Writer) seamNext(c *Card, r *gapflush.Result, other, master string) {
	if r.Open {
		c.next(w.say("seam.next.place", "Settle the placement first, then measure this seam again.", nil))
		return
	}
	if w.elsewhere(r) {
		c.next(w.placeFirst())
		return
	}
	data := fields{"Other": other, "Master": master}
	flush, gap := len(stretches(r, flushOf(r))) > 0, len(stretches(r, gapOf(r))) > 0 || courseFails(r)
	switch {
	case r.Misplaced[1] > 0:
		c.next(w.say("seam.next.order", "First: put points {{.A}} and {{.B}} of the path in their order (path) and measure again. What must move is not told before that.", fields{"A": r.Misplaced[0], "B": r.Misplaced[1]}))
	case r.Folded:
		c.next(w.say("seam.next.folded", "First: draw the path one way along the gap (path) and measure again: it folds over itself, so that no taper is given. What must move is not told before that.", nil))
	}
	doubted := func(yes bool, what string, t gapflush.Target) {
		if yes {
			c.next(w.say("seam.next.doubt", "First: is the {{.What}} nominal of {{.Nominal}} what was meant? It is implausible, as said above; mend the nominal of the {{.What}}. What must move for it is not told before that.", fields{"What": what, "Nominal": MM(t.Nominal)}))
		}
	}
	doubted(flush && r.FlushDoubt, "flush", r.Seam.Flush)
	doubted(gap && r.GapDoubt, "gap", r.Seam.Gap)
	moveFlush, moveGap := flush && !r.FlushDoubt && !r.Folded, gap && !r.GapDoubt && !r.Folded
	if moveFlush || moveGap {
		c.next(w.say("seam.next.stays", "First: is {{.Master}} the one that stays? What follows takes it so; if {{.Other}} stays, make that the master (the side that stays) and read this again.", data))
	}
	if moveFlush {
		w.moveFlush(c, r, other, master)
	}
	if moveGap {
		w.moveGap(c, r, other, master)
	}
	if moveFlush || moveGap {
		c.next(w.say("seam.next.bad", "Look at how {{.Other}} is held nearest to those ends before any metal is reworked.", data))
	}
	before := len(c.Next)
	w.stepNext(c, r)
	noNominal := unjudged(r)
	if noNominal > 0 {
		w.nominalNext(c, r, noNominal)
	}
	if r.Verdict == verdict.Undecided {
		w.wholeNext(c, r)
	}
	near := nearLimit(r)
	data["Near"], data["N"] = near, len(r.Stations)
	if !flush && !gap && mostlyNear(r, len(r.Stations)-r.Measured) {
		w.nearNext(c, data)
	}
	w.advice(c, r)
	if len(c.Next) > before {
		return
	}
	switch {
	case flush || gap:
	case noNominal > 0:
	case !r.Seam.Gap.Judged && !r.Seam.Flush.Judged:
		c.next(w.say("seam.next.tolerance", "Nothing is judged yet: give this seam a tolerance of gap and flush to have its stations judged.", nil))
	case near > 0:
		w.nearNext(c, data)
	case r.Verdict == verdict.Undecided:
		c.next(w.say("seam.next.open", "Scan this seam again, closer and from both sides, so that the edges are seen.", nil))
	default:
		c.next(w.say("seam.next.good", "Nothing to do here. Walk the stations with the left and right arrow keys, or write the evidence.", nil))
	}
}

// courseFails reports whether the course of the gap along the whole seam is out of what it is held to.
func courseFails(r *gapflush.Result) bool {
	return r.TaperVerdict == verdict.DoesNotConform || slices.ContainsFunc(r.Checks, func(k gapflush.Check) bool {
		return k.Verdict == verdict.DoesNotConform && (k.Over > 0 || k.Kind == gapflush.Parallelism)
	})
}

// stepNext says where to look for steps that are too large.
func (w Writer) stepNext(c *Card, r *gapflush.Result) {
	for _, k := range r.Checks {
		if k.Verdict == verdict.DoesNotConform && (k.Kind == gapflush.StepOfGap || k.Kind == gapflush.StepOfFlush) {
			c.next(w.say("seam.next.step", "Look at the edges between {{.From}} and {{.To}} mm ({{.What}}): a step between neighbours is not mended by how the whole panel lies.", fields{"From": tenths(k.From), "To": tenths(k.To), "What": w.checkKind(k)}))
		}
	}
}

// wholeNext says what would decide the taper and the checks that are open with a value.
func (w Writer) wholeNext(c *Card, r *gapflush.Result) {
	if r.TaperVerdict == verdict.Undecided && r.Taper.OK {
		c.next(w.say("seam.next.taper", "The taper of {{.Value}} lies within U of a limit of its tolerance: its U is smaller over a longer path with more stations, or in a scan with less noise.", fields{"Value": WithU(r.Taper, "mm per 100 mm")}))
	}
	var open []string
	for _, k := range r.Checks {
		if k.Verdict == verdict.Undecided && k.Value.OK {
			open = append(open, w.checkKind(k))
		}
	}
	if len(open) > 0 {
		c.next(w.say("seam.next.check", "Within U of a limit: {{.What}}. Only a scan with less noise can decide that.", fields{"What": w.list(open)}))
	}
}

func (w Writer) nearNext(c *Card, data fields) {
	c.next(w.say("seam.next.near", "{{.Near}} of {{.N}} stations {{if eq .Near 1}}lies{{else}}lie{{end}} within U of a limit of tolerance: only a scan with less noise, closer and from both sides, can decide them.", data))
}

// nearLimit counts the stations with a number and a nominal whose U reaches over a limit.
func nearLimit(r *gapflush.Result) (near int) {
	for i := range r.Stations {
		s := &r.Stations[i]
		if !lacksNominal(r, s) && (s.Gap.OK && s.GapVerdict == verdict.Undecided || s.Flush.OK && s.FlushVerdict == verdict.Undecided) {
			near++
		}
	}
	return near
}

// mostlyNear reports whether more stations lie near a limit than lack a gap or a nominal.
func mostlyNear(r *gapflush.Result, without int) bool {
	near := nearLimit(r)
	return near > without && near > unjudged(r)
}

// lacksNominal reports whether a station has a number that a tolerance is typed for, and no nominal to hold it to.
func lacksNominal(r *gapflush.Result, s *gapflush.Station) bool {
	return s.Gap.OK && r.Seam.Gap.Judged && !s.GapNominal.OK || s.Flush.OK && r.Seam.Flush.Judged && !s.FlushNominal.OK
}

// unjudged counts the stations without a nominal.
func unjudged(r *gapflush.Result) int {
	n := 0
	for i := range r.Stations {
		if lacksNominal(r, &r.Stations[i]) {
			n++
		}
	}
	return n
}

// nominalNext says which nominals are missing and what gives one: no scan does.
func (w Writer) nominalNext(c *Card, r *gapflush.Result, n int) {
	gap, flush := false, false
	for i := range r.Stations {
		s := &r.Stations[i]
		gap = gap || s.Gap.OK && r.Seam.Gap.Judged && !s.GapNominal.OK
		flush = flush || s.Flush.OK && r.Seam.Flush.Judged && !s.FlushNominal.OK
	}
	data := fields{"None": n, "N": len(r.Stations)}
	var typed []string
	write := func(key string, t verdict.Tolerance) { // as the file takes it, which knows only the plain minus
		typed = append(typed, strings.ReplaceAll(key+" = { nominal = …, tolerance = ["+limit(t.Lo)+", "+limit(t.Hi)+"] }", "−", "-"))
	}
	if gap {
		write("gap", r.Seam.Gap.Tolerance)
	}
	if flush {
		write("flush", r.Seam.Flush.Tolerance)
	}
	if w.Window {
		w.nominalSetting(c, r, data, gap, flush)
		return
	}
	data["Typed"] = w.list(typed)
	switch noted := strings.Join(r.Notes, " "); {
	case strings.Contains(noted, "no nominal from another seam"):
		c.next(w.say("seam.next.nominal.unlent", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as no other seam gives one; why is said above. Write it in mm beside the tolerance, {{.Typed}}, or as nominal_from the name of the seam that is this one's partner.", data))
		return
	case strings.Contains(noted, " is that of seam "):
		c.next(w.say("seam.next.nominal.lent", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as the seam it comes from has no value there: see what that one lacks, or write it in mm beside the tolerance, {{.Typed}}.", data))
		return
	}
	if w.OwnFrame && !w.Reference {
		c.next(w.say("seam.next.nominal.alone", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as there is no reference to measure it on. Write it in mm beside the tolerance, {{.Typed}}; or name another seam in its place, nominal_from = \"other side\"; or give a [reference] that has this seam.", data))
		return
	}
	c.next(w.say("seam.next.nominal", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as the reference does not show it there. Write it in mm beside the tolerance, {{.Typed}}, or name another seam in its place, nominal_from = \"other side\".", data))
}

// nominalSetting is nominalNext for the window, whose settings have the nominals.
func (w Writer) nominalSetting(c *Card, r *gapflush.Result, data fields, gap, flush bool) {
	var fields []string
	if gap {
		fields = append(fields, "“"+w.say("set.gap.nominal", "Gap wanted, mm", nil)+"”")
	}
	if flush {
		fields = append(fields, "“"+w.say("set.flush.nominal", "Flush wanted, mm", nil)+"”")
	}
	data["Fields"] = w.list(fields)
	switch noted := strings.Join(r.Notes, " "); {
	case strings.Contains(noted, "no nominal from another seam"):
		c.next(w.say("seam.next.nominal.unlent.window", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as no other seam gives one; why is said above. Type it in the settings, under {{.Fields}}.", data))
	case strings.Contains(noted, " is that of seam "):
		c.next(w.say("seam.next.nominal.lent.window", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as the seam it comes from has no value there: see what that one lacks, or type it in the settings, under {{.Fields}}.", data))
	case w.OwnFrame && !w.Reference:
		c.next(w.say("seam.next.nominal.alone.window", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as there is no reference to measure it on. Type it in the settings, under {{.Fields}}, or open the scan together with a reference that has this seam.", data))
	default:
		c.next(w.say("seam.next.nominal.window", "At {{.None}} of {{.N}} stations there is no nominal to judge by, as the reference does not show it there. Type it in the settings, under {{.Fields}}.", data))
	}
}

// Station words one station in short sentences.
func (w Writer) Station(r *gapflush.Result, s *gapflush.Station) []string {
	data := fields{"K": s.Index, "Along": MM(s.Along), "Gap": WithU(s.Gap, "mm"), "Flush": SignedWithU(s.Flush, "mm"), "Feeler": WithU(s.Feeler, "mm"),
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
	if said := w.proud(r, s); said != "" {
		lines = append(lines, said)
	}
	if s.Feeler.OK {
		lines = append(lines, w.say("station.feeler", "A feeler gauge would find {{.Feeler}}", data))
	}
	return lines
}

// proud says which panel stands proud at a station, and where that one lies: a sign alone means nothing to who has the sides
// the wrong way round. "" where the flush is 0 by its U.
func (w Writer) proud(r *gapflush.Result, s *gapflush.Station) string {
	if !s.Flush.OK || math.Abs(s.Flush.V) <= s.Flush.U {
		return ""
	}
	panels := w.Panels(r.Seam)
	data := fields{"Other": capitalWord(panels[1-r.Seam.Master]), "Master": panels[r.Seam.Master]}
	low := s.Flush.V < 0
	for _, run := range r.Sides() {
		if s.Index < r.Stations[run.First].Index || s.Index > r.Stations[run.Last].Index {
			continue
		}
		data["Toward"] = w.toward([2]gapflush.Toward{run.A, run.B}[1-r.Seam.Master])
		if low {
			return w.say("station.low.toward", "{{.Other}}, which lies {{.Toward}}, sits lower than {{.Master}}", data)
		}
		return w.say("station.proud.toward", "{{.Other}}, which lies {{.Toward}}, stands proud of {{.Master}}", data)
	}
	if low {
		return w.say("station.low", "{{.Other}} sits lower than {{.Master}}", data)
	}
	return w.say("station.proud", "{{.Other}} stands proud of {{.Master}}", data)
}

// Lengths words the known lengths.
func (w Writer) Lengths(c *Card, lengths []app.Length) {
	for _, l := range lengths {
		data := fields{"Name": l.Spec.Name, "MM": WithU(l.Reading, "mm"), "Error": WithU(l.Error, "mm"), "PPM": fixed(l.ErrorPPM, 0), "Why": inside(l.Why), "Verdict": w.Verdict(l.Verdict), "Allowed": MM(l.Allowed)}
		if l.Spec.HasTemperature && l.Spec.Temperature != 20 {
			data["MM"] = w.say("length.twenty", "{{.MM}} at 20 °C", fields{"MM": data["MM"]})
		}
		switch {
		case !l.Measured.OK:
			c.add(w.say("length.none", "The known length {{.Name}} has no value: {{.Why}}.", data))
		case l.Judged:
			c.add(w.say("length.judged", "The known length {{.Name}} reads {{.MM}}, off by {{.Error}} ({{.PPM}} ppm), where ± {{.Allowed}} are allowed: {{.Verdict}}.", data))
		default:
			c.add(w.say("length", "The known length {{.Name}} reads {{.MM}}, off by {{.Error}} ({{.PPM}} ppm).", data))
		}
		switch {
		case !l.Measured.OK:
		case l.Alone:
			c.add(w.say("length.body.alone", "As a length of the body, with the scan's drift as this length alone tells it, that is {{.Body}}.", fields{"Body": WithU(l.Measured, "mm")}))
		case l.Grown:
			c.add(w.say("length.body", "As a length of the body, with the scan's drift as all else tells it, that is {{.Body}}.", fields{"Body": WithU(l.Measured, "mm")}))
		default:
			c.add(w.say("length.body.untold", "Nothing tells how far the scan drifts over it, so the ± is of reading alone.", nil))
		}
	}
}

// inside makes a sentence fit to stand after a colon, before a full stop.
func inside(s string) string {
	s = strings.TrimRight(s, ". ")
	if first, second := firstTwo(s); unicode.IsUpper(first) && !unicode.IsUpper(second) {
		s = strings.ToLower(string(first)) + s[utf8.RuneLen(first):]
	}
	return s
}

func firstTwo(s string) (first, second rune) {
	first, n := utf8.DecodeRuneInString(s)
	second, _ = utf8.DecodeRuneInString(s[n:])
	return first, second
}

func capitalWord(s string) string {
	if s == "" {
		return s
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}
