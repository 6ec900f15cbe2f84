package words

import (
	"shutline/app"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// PlaceLine is the one line of state of Place, as SurfaceLine and SeamsLine are of theirs.
func (w Writer) PlaceLine(p *app.Placed) string {
	switch {
	case p.Placement.Method == "none":
		return w.say("line.place.none", "as in the file", nil)
	case p.Placement.Ambiguous:
		return w.say("line.place.ambiguous", "ambiguous", nil)
	case p.Placement.Pairs != nil && p.Placement.Pairs.Wrong >= 0:
		return w.say("line.place.pair", "check pair {{.Pair}}", fields{"Pair": p.Placement.Pairs.Wrong + 1})
	case p.Placement.Pairs != nil && !p.Placement.RMSKnown:
		return w.say("line.place.pairs", "by pairs", nil)
	case p.Placement.RMSKnown:
		return w.say("line.place", "RMS {{.RMS}}", fields{"RMS": MM(p.Placement.RMS)})
	}
	return w.say("line.place.given", "as given", nil)
}

// SurfaceLine says how much of the surface is in tolerance.
func (w Writer) SurfaceLine(c *app.Compared) string {
	f, _ := c.Summary.Figures()
	if !f.OK {
		return w.say("line.surface.none", "no numbers", nil)
	}
	return w.say("line.surface", "{{.Share}} within", fields{"Share": Percent(f.ShareInTolerance)})
}

// SeamsLine says how many stations of all seams are out.
func (w Writer) SeamsLine(results []*gapflush.Result) string {
	n, out, open, measured, unlaid := 0, 0, 0, 0, 0
	for _, r := range results {
		if r.Unlaid != "" {
			unlaid++
		}
		n += len(r.Stations)
		open += undecided(r)
		measured += r.Measured
		for i := range r.Stations {
			if fails(&r.Stations[i]) {
				out++
			}
		}
	}
	data := fields{"Out": out, "Open": open, "N": n, "Measured": measured, "Unlaid": unlaid}
	if unlaid > 0 {
		return w.say("line.seams.unlaid", "{{.Unlaid}} not measured", data)
	}
	switch {
	case out > 0 && open > 0:
		return w.say("line.seams.both", "{{.Out}} out, {{.Open}} undecided", data)
	case out > 0:
		return w.say("line.seams.out", "{{.Out}} of {{.N}} stations out", data)
	case open > 0:
		return w.say("line.seams.open", "{{.Open}} of {{.N}} undecided", data)
	}
	return w.say("line.seams", "{{.Measured}} of {{.N}} measured", data)
}

// Evidence words the whole outcome and the cautions.
func (w Writer) Evidence(o *app.Outcome, written string) Card {
	c := Card{Verdict: o.Verdict}
	switch o.Verdict {
	case verdict.Conforms:
		c.Headline = w.say("evidence.good", "Everything that was judged conforms", nil)
		if none := notJudged(o.Seams); none > 0 {
			c.Headline = w.say("evidence.good.some", "What was judged conforms; {{.None}} of {{.N}} seams have no verdict on gap or flush", fields{"None": none, "N": len(o.Seams)})
		}
	case verdict.DoesNotConform:
		c.Headline = w.say("evidence.bad", "The inspection does not conform", nil)
	case verdict.Undecided:
		c.Headline = w.say("evidence.open", "The inspection is undecided", nil)
	default:
		c.Headline = w.say("evidence.none", "Nothing was judged: the figures are reported", nil)
	}
	if o.Parts != nil {
		if n := o.Parts.Exchanged(); n != "" {
			c.add(capital(n))
		}
	}
	if o.Compared != nil {
		if f, _ := o.Compared.Summary.Figures(); f.OK {
			c.add(w.say("evidence.surface", "Surface: {{.Share}} in tolerance, {{.Verdict}}.",
				fields{"Share": Percent(f.ShareInTolerance), "Verdict": w.Verdict(o.Compared.Verdict)}))
		}
	}
	for _, r := range o.Seams {
		if r.Unlaid != "" {
			c.add(w.say("evidence.seam.unlaid", "{{.Name}}: no value, because {{.Why}}.", fields{"Name": capitalWord(r.Seam.Name), "Why": inside(r.Unlaid)}))
			continue
		}
		out, without := 0, 0
		for i := range r.Stations {
			if fails(&r.Stations[i]) {
				out++
			}
			if !r.Stations[i].Gap.OK {
				without++
			}
		}
		data := fields{"Name": capitalWord(r.Seam.Name), "Out": out, "Open": undecided(r), "Without": without, "N": len(r.Stations), "Verdict": w.Verdict(r.Verdict), "Whole": w.wholes(r)}
		if !r.Seam.Gap.Judged && !r.Seam.Flush.Judged {
			c.add(w.say("evidence.seam.none", "{{.Name}}: {{.N}} stations, {{.Without}} without a gap; gap and flush have no tolerance, so no station is judged{{if .Whole}}: {{.Whole}}{{end}}.", data))
			continue
		}
		if without > 0 {
			c.add(w.say("evidence.seam.some", "{{.Name}}: {{.Out}} of {{.N}} stations out, {{if .Open}}{{.Open}} undecided, {{end}}{{.Without}} without a gap, {{if .Whole}}{{.Whole}}: {{end}}{{.Verdict}}.", data))
		} else {
			c.add(w.say("evidence.seam", "{{.Name}}: {{.Out}} of {{.N}} stations out, {{if .Open}}{{.Open}} undecided, {{end}}{{if .Whole}}{{.Whole}}: {{end}}{{.Verdict}}.", data))
		}
	}
	w.Lengths(&c, o.Lengths)
	if written != "" {
		c.next(w.say("evidence.written", "Written to {{.Dir}}. The headless command writes the same results from the saved job and the same meshes.", fields{"Dir": written}))
	} else {
		c.next(w.say("evidence.next", "Write the evidence into a folder: tables, pictures, and one file that holds everything with the hashes of what was measured.", nil))
	}
	return c
}

// wholes says which of what a seam as a whole is held to does not conform or is undecided; "" where all of it conforms.
func (w Writer) wholes(r *gapflush.Result) string {
	var said []string
	for _, v := range []verdict.Verdict{verdict.DoesNotConform, verdict.Undecided} {
		if what := w.whole(r, v); what != "" {
			said = append(said, w.say("evidence.whole", "{{.What}} {{.Verdict}}", fields{"What": what, "Verdict": w.Verdict(v)}))
		}
	}
	return w.list(said)
}

// notJudged counts the seams of which gap or flush has no tolerance.
func notJudged(list []*gapflush.Result) (n int) {
	for _, r := range list {
		if !r.Seam.Gap.Judged || !r.Seam.Flush.Judged {
			n++
		}
	}
	return n
}

// Cautions are what no measurement here can say.
func (w Writer) Cautions() []string {
	return []string{
		w.say("caution.hidden", "A fit within tolerance says nothing about structure, welds, airbags, latches, high-voltage parts or driver-assistance sensors behind a panel.", nil),
		w.say("caution.procedures", "Follow the vehicle maker's repair procedures, local rules and licensed practice.", nil),
		w.say("caution.laser", "Scanners may be lasers: mind their class and protect eyes.", nil),
	}
}
