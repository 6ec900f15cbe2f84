package words

import (
	"fmt"
	"math"
	"strings"

	"shutline/app"
	"shutline/deviation/drift"
	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/geom"
)

// mostlyScan is the share of what follows the rest of the part from which a drift's shapes are
// called the scan's fault rather than the body's.
const mostlyScan = 0.5

// leastTold is the least share of the variance that is told as one.
const leastTold = 0.005

// Drift words what the shapes of a drifting scan explain of the deviations.
func (w Writer) Drift(r *drift.Result) Card {
	c := Card{}
	if r == nil || !r.OK {
		why := ""
		if r != nil {
			why = r.Why
		}
		c.Headline = w.say("drift.none", "No drift can be told: {{.Why}}", fields{"Why": why})
		return c
	}
	seen := app.SeenShapes(r)
	if len(seen) == 0 {
		c.Headline = w.nothingSeen(r)
	} else {
		c.Headline = w.say("drift.seen", "The deviations have a shape that a drifting scan has", nil)
	}
	for k, x := range seen {
		data := fields{"Share": Percent(x.Share), "Following": Percent(x.ShareFollowing), "Shape": w.shape(r, x), "Rest": Percent(r.Aside)}
		switch {
		case k == 0 && r.TotalFollowing >= mostlyScan && x.Share >= mostlyScan:
			c.add(w.say("drift.scan", "{{.Share}} of the deviation is {{.Shape}}: more likely the scan than the body.", data))
		case k == 0 && r.TotalFollowing >= mostlyScan && x.Share >= leastTold:
			c.add(w.say("drift.scan.rest", "{{.Following}} of the deviation outside the places that are set aside, {{.Share}} of all of it, is {{.Shape}}: more likely the scan than the body.", data))
		case k == 0 && x.Share < leastTold:
			c.add(w.say("drift.hardly", "Seen, though it explains next to nothing of the deviation as a whole: {{.Shape}}.", data))
		case x.Share < leastTold:
			c.add(w.say("drift.beside", "Seen beside it, though it explains next to nothing of the deviation: {{.Shape}}.", data))
		default:
			c.add(w.say("drift.part", "{{.Share}} of the deviation is {{.Shape}}.", data))
		}
	}
	if len(seen) > 0 {
		c.add(w.say("drift.left", "With what is seen taken out, {{.Was}} RMS would be {{.Left}} on the area that follows it; nothing was taken out of any result.",
			fields{"Was": MM(r.RMSFollowing), "Left": MM(r.Left)}))
	}
	if r.Aside >= 0.02 {
		c.add(w.say("drift.aside", "{{.Aside}} of the area follows no such shape and was set aside: a dent, another panel, or a scan that is off in another way.", fields{"Aside": Percent(r.Aside)}))
	}
	if r.EdgesOff {
		c.add(w.say("drift.edges", "Edges lie off their places by more than any of these shapes explains, as where a part is longer or bent within its surface by more than its edges' radius: such a drift may be there, and how large it is is not told. Measure a known length.", nil))
	}
	var known, rough, not []string
	for _, x := range r.Terms {
		switch {
		case !x.Held:
			not = append(not, w.shapeName(r, x.Kind))
		case !x.Seen && x.Size.U > roughly:
			rough = append(rough, w.say("drift.heldto", "{{.Shape}}, held to ± {{.U}}", fields{"Shape": w.shapeName(r, x.Kind), "U": verdict.TwoDigits(x.Size.U) + " mm"}))
		case !x.Seen:
			known = append(known, fmt.Sprintf("%s %s", w.shapeName(r, x.Kind), WithU(x.Size, "mm")))
		}
	}
	if len(known) > 0 {
		c.add(w.say("drift.within", "Too small to be told from chance: {{.List}}.", fields{"List": strings.Join(known, "; ")}))
	}
	if len(rough) > 0 {
		c.add(w.say("drift.rough", "Held only roughly, so that a drift of up to one and a half times as much would not be seen: {{.List}}.", fields{"List": strings.Join(rough, "; ")}))
	}
	if len(not) > 0 {
		c.add(w.say("drift.notheld", "Not held by this surface, so without a number: {{.List}}.", fields{"List": strings.Join(not, "; ")}))
	}
	if len(seen) > 0 {
		c.Lacks = true // whether it is the body or the scan
		c.next(w.say("drift.next", "A body that is truly bent looks the same: measure a known length, or scan again by another route, before anything is blamed.", nil))
	}
	return c
}

const (
	// roughly, mm: a shape is seen from one and a half times its U on, and from this on a drift of 0.3 mm, which is the least that matters
	// over a body, would not be.
	roughly = 0.2
	// muchAside: another panel is up to a third of a part; with more of the area set aside, that no drift is seen would be said of too little.
	muchAside = 0.4
)

// nothingSeen words that no shape is seen, and of how much that is said.
func (w Writer) nothingSeen(r *drift.Result) string {
	held := true
	for _, k := range []drift.Kind{drift.ScaleLong, drift.BendMiddle, drift.BendShort, drift.Twist} {
		held = held && r.Terms[k].Held
	}
	switch {
	case r.Aside >= muchAside:
		return w.say("drift.other", "The deviations have none of the shapes that are looked for: {{.Aside}} of the area follows none", fields{"Aside": Percent(r.Aside)})
	case r.EdgesOff:
		return w.say("drift.edgesoff", "No drift is seen on the faces, but edges lie off their places", nil)
	case !held:
		return w.say("drift.asheld", "No drift is seen in what this surface holds", nil)
	}
	return w.say("drift.clean", "No drift is seen", nil)
}

// shape words a shape with its size.
func (w Writer) shape(r *drift.Result, x drift.Term) string {
	data := fields{"Value": WithU(x.Value, x.Kind.Unit()), "MM": WithU(x.Size, "mm"), "Axis": w.axis(r, 0), "Across": w.axis(r, 1), "Through": w.axis(r, 2)}
	switch x.Kind {
	case drift.Twist:
		per := math.Pi / 180 / r.Frame.Size[0] * 1e6 // of a degree from end to end
		data["Rate"] = WithU(verdict.Value{V: x.Value.V * per, U: x.Value.U * per, OK: x.Value.OK}, "mrad per metre")
		return w.say("drift.twist", "a twist of {{.Rate}} about {{.Axis}} ({{.MM}} at the edge and {{.Value}}, one end against the other)", data)
	case drift.BendMiddle:
		return w.say("drift.bend.middle", "a bend of {{.MM}} of sagitta in the plane of {{.Axis}} and {{.Across}}", data)
	case drift.BendShort:
		return w.say("drift.bend.short", "a bend of {{.MM}} of sagitta in the plane of {{.Axis}} and {{.Through}}", data)
	case drift.ScaleLong:
		return w.say("drift.scale.long", "a scale error of {{.Value}} along {{.Axis}} ({{.MM}} over the part)", data)
	case drift.ScaleMiddle:
		return w.say("drift.scale.middle", "a scale error of {{.Value}} along {{.Across}} ({{.MM}} over the part)", data)
	case drift.ScaleShort:
		return w.say("drift.scale.short", "a scale error of {{.Value}} along {{.Through}} ({{.MM}} over the part)", data)
	case drift.ShearLongMiddle:
		return w.say("drift.shear.lm", "a shear of {{.Value}} between {{.Axis}} and {{.Across}}", data)
	case drift.ShearLongShort:
		return w.say("drift.shear.ls", "a shear of {{.Value}} between {{.Axis}} and {{.Through}}", data)
	}
	return w.say("drift.shear.ms", "a shear of {{.Value}} between {{.Across}} and {{.Through}}", data)
}

// shapeName names a shape without its size.
func (w Writer) shapeName(r *drift.Result, k drift.Kind) string {
	data := fields{"Axis": w.axis(r, 0), "Across": w.axis(r, 1), "Through": w.axis(r, 2)}
	switch k {
	case drift.Twist:
		return w.say("shape.twist", "twist", nil)
	case drift.BendMiddle:
		return w.say("shape.bend.middle", "bend toward {{.Across}}", data)
	case drift.BendShort:
		return w.say("shape.bend.short", "bend toward {{.Through}}", data)
	case drift.ScaleLong:
		return w.say("shape.scale.long", "scale along {{.Axis}}", data)
	case drift.ScaleMiddle:
		return w.say("shape.scale.middle", "scale along {{.Across}}", data)
	case drift.ScaleShort:
		return w.say("shape.scale.short", "scale along {{.Through}}", data)
	case drift.ShearLongMiddle:
		return w.say("shape.shear.lm", "shear between {{.Axis}} and {{.Across}}", data)
	case drift.ShearLongShort:
		return w.say("shape.shear.ls", "shear between {{.Axis}} and {{.Through}}", data)
	}
	return w.say("shape.shear.ms", "shear between {{.Across}} and {{.Through}}", data)
}

// likeAxis: an axis of the part within 30 degrees of one of the vehicle's is called by it.
const likeAxis = 0.8660254037844386

// axis names one of the part's axes: "the long axis (X)".
func (w Writer) axis(r *drift.Result, k int) string {
	name, d := "", r.Frame.Axes[k]
	for i, a := range [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		if !w.OwnFrame && math.Abs(d.Dot(a)) >= likeAxis {
			name = " (" + "XYZ"[i:i+1] + ")"
		}
	}
	data := fields{"Name": name}
	switch k {
	case 0:
		return w.say("axis.long", "the long axis{{.Name}}", data)
	case 1:
		return w.say("axis.middle", "the middle axis{{.Name}}", data)
	}
	return w.say("axis.short", "the short axis{{.Name}}", data)
}

// leastChance is what a chance that is too small for a float64 is worded as: not as none.
const leastChance = 1e-9

// Scale words the scale that several known lengths tell.
func (w Writer) Scale(c *Card, s length.Scale) {
	if !s.PPM.OK || s.Lengths < 2 {
		return
	}
	data := fields{"N": s.Lengths, "PPM": fixed(s.PPM.V, 0), "U": verdict.Uncertainty(s.PPM.U, 0), "P": Percent(max(s.P, leastChance)), "Chi": fixed(s.Chi2, 2), "DoF": s.DoF}
	if s.Common {
		c.add(w.say("scale.common", "One scale error of {{.PPM}} ± {{.U}} ppm explains all {{.N}} known lengths (chi-square {{.Chi}} on {{.DoF}}, chance {{.P}}).", data))
		return
	}
	c.add(w.say("scale.not", "No one scale explains the {{.N}} known lengths (chi-square {{.Chi}} on {{.DoF}}, chance {{.P}}): the scan is bent, or one of them is wrong. The mean is {{.PPM}} ± {{.U}} ppm.", data))
}

// Worth words what the scan is good for.
func (w Writer) Worth(o *app.Outcome) Card {
	c := Card{}
	g := o.Growth
	if g == nil {
		c.Headline = w.say("worth.not", "What the scan is good for was not looked for", nil)
		return c
	}
	if g.OK {
		c.Headline = w.say("worth.is", "The scan's own uncertainty is {{.A}} and {{.B}} for each metre (k = 2)", fields{"A": MM(g.A), "B": MM(g.PerMetre)})
		if g.Span < g.Size {
			c.add(w.say("worth.span", "It grows up to {{.Span}}, the width that the scanner goes round: places farther apart need not be farther apart along its path.", fields{"Span": MM(g.Span)}))
		}
	} else {
		c.Headline = w.say("worth.none", "What the scan is good for over a length has no value, because {{.Why}}", fields{"Why": g.Why})
	}
	good := false
	for _, u := range o.Uses() {
		good = good || u.Good.OK && !u.Median
		data := fields{"Use": w.use(u.Name), "Over": MM(u.Over), "Good": verdict.TwoDigits(u.Good.V) + " mm"}
		switch {
		case u.Good.OK && u.Median:
			c.add(w.say("worth.good.median", "Good for {{.Use}} (over {{.Over}}) to ± {{.Good}}: that is the expanded uncertainty U (k = 2) of a gap on this scan, of half of them or better; what counts for a verdict is each station's own.", data))
		case u.Good.OK:
			c.add(w.say("worth.good", "Good for {{.Use}} (over {{.Over}}) to ± {{.Good}}.", data))
		default:
			c.add(w.say("worth.nothing", "For {{.Use}} (over {{.Over}}): no value.", data))
		}
	}
	if good {
		c.add(w.say("worth.means", "There ± is the expanded uncertainty (k = 2, some 95 times in 100) that the scan itself brings to a measure over so long a way, its drift included.", nil))
	}
	var rests []string
	for _, t := range g.Tellers {
		if t.Counts {
			rests = append(rests, w.say("worth.teller", "{{.Name}}, off by {{.Error}} over {{.Over}}", fields{"Name": t.Name, "Error": WithU(verdict.Value{V: t.Error, U: t.U, OK: true}, "mm"), "Over": MM(t.Over)}))
		}
	}
	if g.OK {
		c.add(w.say("worth.rests", "It rests on: {{.List}}. Of so few, the next may be {{.Factor}} times as far off as they were on average.",
			fields{"List": strings.Join(rests, "; "), "Factor": fixed(g.Factor, 1)}))
	}
	for k, t := range g.Tellers {
		// What is known worse than the others show says nothing new, and counts as what it may hide.
		if rest := g.Without(k); t.Kind == worth.Length && t.Counts && g.OK && rest.OK && rest.PerMetre < g.PerMetre && math.Abs(t.Error) < t.U/2 {
			c.add(w.say("worth.weak", "{{.Name}} tells the scan's error to {{.U}} only and counts with half of that: without it the figure for each metre would be {{.B}}. A longer one, or one that is known better, makes it smaller.",
				fields{"Name": capitalWord(t.Name), "U": "± " + verdict.TwoDigits(t.U) + " mm", "B": MM(rest.PerMetre)}))
		}
	}
	if g.Used == 0 {
		c.Lacks = true
		c.next(w.say("worth.next", "Lay a scale bar of two thirds of the part's length beside it, or let the scanner come back over its start.", nil))
	}
	return c
}

func (w Writer) use(name string) string {
	switch name {
	case worth.ForGaps:
		return w.say("use.gaps", "gaps and flushes", nil)
	case worth.ForPanels:
		return w.say("use.panel", "the shape of a panel", nil)
	}
	return w.say("use.overall", "overall dimensions", nil)
}

// Plan words how to scan the next time.
func (w Writer) Plan(p *scanplan.Plan) Card {
	c := Card{}
	if !p.Growth.OK || len(p.Tried) == 0 {
		c.Headline = w.say("plan.none", "There is no plan for the next scan", nil)
		c.add(capital(p.Why))
		return c
	}
	data := fields{"Wanted": MM(p.Wanted), "Length": MM(p.Part.Length), "Now": MM(2 * p.Now.Length), "Then": MM(2 * p.Chosen.Length), "Why": capital(p.Why),
		"Error": MM(p.Growth.Error), "Path": fixed(p.Growth.Path/1000, 1), "Power": fixed(p.Growth.Power, 2), "Far": MM(p.Now.FarEnd)}
	if p.OK {
		c.Headline = w.say("plan.ok", "The next scan can be within {{.Wanted}} over {{.Length}}", data)
	} else {
		c.Headline = w.say("plan.no", "The next scan cannot be within {{.Wanted}} over {{.Length}} with this scanner", data)
		c.add(data["Why"].(string))
	}
	if p.Growth.Fitted {
		c.add(w.say("plan.fitted", "Seen: {{.Error}} off after {{.Path}} m, growing with the power {{.Power}} of the path.", data))
	} else {
		c.add(w.say("plan.usual", "Seen: {{.Error}} off after {{.Path}} m; that it grows in proportion to the path is taken as usual.", data))
	}
	if p.Closed {
		c.add(w.say("plan.closed", "One place comes back within its U and others do not: where a program has closed this scan's loop, the scanner drifts by more than is seen here, and a scan that is left open tells by how much.", nil))
	}
	c.add(w.say("plan.predicted", "In one go the far end would be {{.Far}} off (root mean square) and the length {{.Now}} (k = 2); as planned the length {{.Then}} (k = 2).", data))
	if !p.OK {
		c.add(w.say("plan.best", "The best there is with it:", nil))
	}
	for k, s := range p.Steps {
		c.add(fmt.Sprintf("%d. %s", k+1, capital(s)))
	}
	return c
}
