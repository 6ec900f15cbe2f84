package words

import (
	"math"
	"strconv"
	"strings"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/crosscut"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Paths says which seams were traced or found, how long they are and how sure that is.
func (w Writer) Paths(paths []app.SeamPath) Card {
	laid := 0
	for _, p := range paths {
		if p.Laying != inspection.Typed && p.Why == "" {
			laid++
		}
	}
	c := Card{Headline: w.say("paths", "{{.N}} of {{.All}} seams were found or traced", fields{"N": laid, "All": len(paths)})}
	for _, p := range paths {
		data := fields{"Name": p.Seam, "MM": fixed(p.Length, 0), "Seen": fixed(100*p.Seen, 0), "Gap": fixed(p.Width, 1), "Sure": p.SureWord}
		switch {
		case p.Laying == inspection.Typed:
		case p.Why != "":
			c.add(w.say("path.unlaid", "{{.Name}}: no path, so that it is not measured; why is said at the seam.", data))
		case p.Laying == inspection.Found && p.HasWidth:
			c.add(w.say("path.found", "{{.Name}}: found, {{.MM}} mm long, about {{.Gap}} mm wide, seen on {{.Seen}} % of it; {{.Sure}}.", data))
		case p.Laying == inspection.Found:
			c.add(w.say("path.found.bare", "{{.Name}}: found, {{.MM}} mm long; {{.Sure}}.", data))
		default:
			c.add(w.say("path.traced", "{{.Name}}: traced over {{.MM}} mm, the gap seen on {{.Seen}} % of it.", data))
		}
	}
	if w.OwnFrame && len(c.Found) > 0 {
		c.add(w.say("path.own", "Side A was chosen as if the axes were the vehicle's (X rearward, Y to the right, Z up). They may lie otherwise: look at each seam which way its sides lie.", nil))
	}
	return c
}

// Checks says how far seams as a whole keep their limits.
func (w Writer) Checks(checks []app.SeamCheck) Card {
	c := Card{Headline: w.say("checks", "{{.N}} of whole seams", fields{"N": len(checks)})}
	for _, k := range checks {
		c.Verdict = verdict.Worst(c.Verdict, k.Verdict)
		c.add(w.check(k.Seam+", ", k))
	}
	return c
}

// held says how far a seam as a whole keeps its limits.
func (w Writer) held(c *Card, r *gapflush.Result) {
	for _, k := range r.Checks {
		c.add(capital(w.check("", k)))
	}
}

// checkKind names what a seam as a whole is held to.
func (w Writer) checkKind(k app.SeamCheck) string {
	switch {
	case k.Over > 0:
		return w.say("check.taper", "taper over {{.Over}} mm", fields{"Over": strconv.FormatFloat(k.Over, 'g', 6, 64)})
	case k.Kind == gapflush.Parallelism:
		return w.say("check.parallel", "parallelism", nil)
	case k.Kind == gapflush.StepOfGap:
		return w.say("check.step.gap", "step of gap", nil)
	case k.Kind == gapflush.StepOfFlush:
		return w.say("check.step.flush", "step of flush", nil)
	}
	return k.Kind
}

// check says how far a seam as a whole keeps one limit; seam is its name with a comma, where that has to be said.
func (w Writer) check(seam string, k app.SeamCheck) string {
	data := fields{"Seam": seam, "Kind": w.checkKind(k), "Value": WithU(k.Value, k.Unit), "From": tenths(k.From), "To": tenths(k.To), "Span": tenths(k.To - k.From), "Verdict": w.Verdict(k.Verdict), "Why": inside(k.Why),
		"Lo": limit(k.Limit.Lo), "Hi": limit(k.Limit.Hi) + " " + k.Unit}
	if math.IsInf(k.Limit.Lo, 0) {
		data["Allowed"] = w.say("check.most", "at most {{.Hi}}", data)
	} else {
		data["Allowed"] = w.say("check.between", "{{.Lo}} to {{.Hi}}", data)
	}
	switch {
	case k.Value.OK && k.Over > 0 && k.To-k.From < k.Over-0.05:
		return w.say("check.short", "{{.Seam}}{{.Kind}}: at worst {{.Value}} (allowed: {{.Allowed}}), from {{.From}} to {{.To}} mm, the {{.Span}} mm that stations with a gap span there: {{.Verdict}}.", data)
	case k.Value.OK:
		return w.say("check", "{{.Seam}}{{.Kind}}: at worst {{.Value}} (allowed: {{.Allowed}}), from {{.From}} to {{.To}} mm: {{.Verdict}}.", data)
	}
	return w.say("check.none", "{{.Seam}}{{.Kind}}: no value (allowed: {{.Allowed}}), because {{.Why}}: {{.Verdict}}.", data)
}

// Sections says what each section shows and its read-outs.
func (w Writer) Sections(sections []*crosscut.Section) Card {
	cut := 0
	for _, s := range sections {
		if s.Missing == "" {
			cut++
		}
	}
	c := Card{Headline: w.say("sections", "{{.N}} cut", fields{"N": cut})}
	if cut < len(sections) {
		c.Headline = w.say("sections.some", "{{.N}} of {{.All}} cut", fields{"N": cut, "All": len(sections)})
	}
	if none, of := withoutValue(sections); none > 0 {
		data := fields{"Cut": c.Headline, "None": none, "N": of}
		c.Headline = w.say("sections.readings", "{{.Cut}}; {{.None}} of {{.N}} read-outs {{if eq .None 1}}has{{else}}have{{end}} no value", data)
		c.Lacks = true
	}
	for _, s := range sections {
		f := &s.Figures
		data := fields{"Name": s.Spec.Name, "Low": Signed(f.Lowest.V), "High": Signed(f.Highest.V), "RMS": fixed(f.RMS, 2), "In": Percent(f.InTolerance)}
		switch {
		case s.Missing != "":
			c.add(w.say("section.no", "{{.Name}}: no section here, because {{.Why}}.", fields{"Name": s.Spec.Name, "Why": inside(s.Missing)}))
			continue
		case f.Measured > 0:
			c.add(w.say("section", "{{.Name}}: {{.Low}} to {{.High}} off the reference, RMS {{.RMS}} mm, {{.In}} of it in tolerance.", data))
		case s.ReferenceMissing:
			c.add(w.say("section.missing", "{{.Name}}: the plane does not meet the reference.", data))
		case s.HasReference:
			c.add(w.say("section.none", "{{.Name}}: no place has a deviation.", data))
		default:
			c.add(w.say("section.alone", "{{.Name}}: the scan alone.", data))
		}
		for i := range s.Readings {
			w.reading(&c, s.Spec.Name, &s.Readings[i])
		}
	}
	return c
}

// Readings says how many read-outs of sections have no value; "" where none lacks one.
func (w Writer) Readings(sections []*crosscut.Section) string {
	none, of := withoutValue(sections)
	if none == 0 {
		return ""
	}
	return w.say("readings.none", "Of {{.N}} read-outs of sections {{.None}} {{if eq .None 1}}has{{else}}have{{end}} no value; why is said above.", fields{"None": none, "N": of})
}

// withoutValue counts the read-outs that have no value of the scan, and all.
func withoutValue(sections []*crosscut.Section) (none, of int) {
	for _, s := range sections {
		for i := range s.Readings {
			of++
			if !s.Readings[i].Scan.OK {
				none++
			}
		}
	}
	return none, of
}

func (w Writer) reading(c *Card, section string, r *crosscut.Reading) {
	scan, ref, unit := r.Scan, r.Reference, "mm"
	if r.Kind == "angle" {
		const degree = 180 / math.Pi
		scan.V, scan.U, ref.V, ref.U, unit = scan.V*degree, scan.U*degree, ref.V*degree, ref.U*degree, "°"
	}
	name := r.Name
	if name == "" {
		name = w.say("reading.radius", "radius", nil)
		if r.Kind == "angle" {
			name = w.say("reading.angle", "angle", nil)
		}
	}
	data := fields{"Section": section, "Name": name, "Value": tight(WithU(scan, unit)), "Reference": tight(WithU(ref, unit)), "Why": inside(r.Why)}
	switch {
	case !scan.OK:
		c.add(w.say("reading.none", "{{.Section}}, {{.Name}}: no value, because {{.Why}}.", data))
	case ref.OK:
		c.add(w.say("reading.both", "{{.Section}}, {{.Name}}: {{.Value}}, on the reference {{.Reference}}.", data))
	case r.WhyReference != "":
		data["Why"] = inside(r.WhyReference)
		c.add(w.say("reading.noreference", "{{.Section}}, {{.Name}}: {{.Value}}; on the reference no value, because {{.Why}}.", data))
	default:
		c.add(w.say("reading.scan", "{{.Section}}, {{.Name}}: {{.Value}}.", data))
	}
}

// tight puts the sign for degrees to its number.
func tight(s string) string { return strings.ReplaceAll(s, " °", "°") }
