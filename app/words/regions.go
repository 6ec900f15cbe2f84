package words

import (
	"math"
	"strings"

	"shutline/app"
	"shutline/deviation"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/geom"
)

const (
	// mostTold is how many regions are told one by one; the table holds all.
	mostTold = 6
	// flatSide: along a side of the part's box that is shorter than this share of the
	// longest, thirds are no places that a hand would look for.
	flatSide = 0.2
)

// Thirds says where in the reference's box a point lies, in the words of
// vehicle axes (x rearward, y to the right, z up): "the front lower third"; ""
// where no axis is known to point anywhere.
func (w Writer) Thirds(p geom.Vec, box geom.Box) string {
	size := box.Size()
	longest := max(size.X, size.Y, size.Z)
	if w.OwnFrame || !(longest > 0) {
		return ""
	}
	names := [3][3]string{
		{w.say("third.front", "front", nil), "", w.say("third.rear", "rear", nil)},
		{w.say("third.left", "left", nil), "", w.say("third.right", "right", nil)},
		{w.say("third.lower", "lower", nil), "", w.say("third.upper", "upper", nil)},
	}
	var said []string
	for _, axis := range []int{0, 2, 1} {
		if size.At(axis) < flatSide*longest {
			continue
		}
		third := int(math.Floor(3 * (p.At(axis) - box.Lo.At(axis)) / size.At(axis)))
		if name := names[axis][max(0, min(2, third))]; name != "" {
			said = append(said, name)
		}
	}
	if len(said) == 0 {
		return w.say("third.middle", "the middle", nil)
	}
	return w.say("third", "the {{.Names}} third", fields{"Names": strings.Join(said, " ")})
}

// regions tells the worst places beyond the tolerance one by one, with where they
// are, how large and how far out.
func (w Writer) regions(c *Card, o *app.Outcome) {
	all := o.Compared.Clusters
	if o.Placed == nil || o.Placed.Mesh == nil || o.Parts == nil || o.Parts.Mirrored == nil {
		return
	}
	out, open := 0, 0
	for k := range all.List {
		if all.List[k].State == deviation.BeyondByU {
			out++
		} else {
			open++
		}
	}
	box := o.Parts.Box(o.Parts.Mirrored)
	told := 0
	for k := range all.List {
		if told == mostTold || all.List[k].State != deviation.BeyondByU {
			break
		}
		c.Found = append(c.Found, w.region(k, &all.List[k], o, box))
		told++
	}
	rest := fields{"N": Count(out - told), "Open": Count(open), "Specks": Count(all.Specks), "Area": w.area(all.SpecksArea), "Further": out > 0}
	switch {
	case out-told == 1:
		c.add(w.say("region.one", "One more place is out of tolerance by more than its uncertainty; clusters.csv has it.", rest))
	case out > told:
		c.add(w.say("region.more", "{{.N}} more places are out of tolerance by more than their uncertainty; clusters.csv has them.", rest))
	}
	switch {
	case open == 1:
		c.add(w.say("region.open.one", "One {{if .Further}}further {{end}}place reads beyond the tolerance, but too few of its connected points do by more than their uncertainty: whether it is out of tolerance is undecided.", rest))
	case open > 1:
		c.add(w.say("region.open", "{{.Open}} {{if .Further}}further {{end}}places read beyond the tolerance, but too few of the connected points of each do by more than their uncertainty: whether they are out of tolerance is undecided.", rest))
	}
	if all.Specks > 0 {
		c.add(w.say("region.specks", "Specks of one or two points beyond the tolerance: {{.Specks}}, together {{.Area}}; they are no places of their own.", rest))
	}
}

// region words one place: "Place 1, in the front lower third: 180 × 60 mm lie up to 1.12 ± 0.06 mm low (…)."
func (w Writer) region(k int, r *deviation.Cluster, o *app.Outcome, box geom.Box) Sentence {
	at := o.Placed.Mesh.Vertices[r.Peak]
	peak := verdict.Value{V: math.Abs(r.Value.V), U: r.Value.U, OK: true}
	data := fields{
		"K": k + 1, "Where": w.Thirds(r.Centre, box), "Size": extent(r.Size), "Area": w.area(r.Area),
		"Peak": WithU(peak, "mm"), "Mean": MM(math.Abs(r.Mean)), "Spot": Spot(at),
	}
	if atReach(o, r.Value.V) {
		data["Peak"] = w.say("region.reach", "{{.MM}} and more", fields{"MM": MM(o.Inspection.Surface.Reach)})
	}
	var said string
	switch {
	case r.Value.V > 0 && data["Where"] == "":
		said = w.say("region.proud", "Place {{.K}}, {{.Size}} ({{.Area}}), stands up to {{.Peak}} proud, {{.Mean}} on average; its highest point is at {{.Spot}}.", data)
	case data["Where"] == "":
		said = w.say("region.low", "Place {{.K}}, {{.Size}} ({{.Area}}), lies up to {{.Peak}} low, {{.Mean}} on average; its lowest point is at {{.Spot}}.", data)
	case r.Value.V > 0:
		said = w.say("region.proud.where", "Place {{.K}}, in {{.Where}}, {{.Size}} ({{.Area}}), stands up to {{.Peak}} proud, {{.Mean}} on average; its highest point is at {{.Spot}}.", data)
	default:
		said = w.say("region.low.where", "Place {{.K}}, in {{.Where}}, {{.Size}} ({{.Area}}), lies up to {{.Peak}} low, {{.Mean}} on average; its lowest point is at {{.Spot}}.", data)
	}
	if s, st := membrane(o, at); s != nil {
		data["Name"], data["K"] = s.Seam.Name, s.Stations[st].Index
		said += " " + w.say("surface.membrane", "That is beside station {{.K}} of {{.Name}}, where the scan runs across the gap: it may be a membrane and no panel.", data)
	}
	return Sentence{Text: said, At: &at}
}

// extent returns the two sides of a region; one of less than a millimetre is that of a single row of points.
func extent(size [2]float64) string {
	if size[1] < 1 {
		return fixed(size[0], 0) + " × under 1 mm"
	}
	return fixed(size[0], 0) + " × " + fixed(size[1], 0) + " mm"
}

// area returns an area in cm² from 1 cm² on, else in mm².
func (w Writer) area(mm2 float64) string {
	switch {
	case mm2 >= 1000:
		return fixed(mm2/100, 0) + " cm²"
	case mm2 >= 100:
		return fixed(mm2/100, 1) + " cm²"
	}
	return fixed(mm2, 0) + " mm²"
}

// doubts says how uncertain the deviations are, and what is not in that.
func (w Writer) doubts(c *Card, o *app.Outcome) {
	u := o.Compared.Summary.U
	data := fields{"P50": verdict.TwoDigits(u.P50), "P95": verdict.TwoDigits(u.P95), "Noise": fixed(u.Noise, 3)}
	switch {
	case !u.OK:
		return
	case o.Inspection.Scan.Noise > 0 && u.Noise > o.Inspection.Scan.Noise:
		c.add(w.say("surface.U.rougher", "A point's deviation is known to ± {{.P50}} mm (k = 2), at 95 % of the points to ± {{.P95}} mm or better, with a noise of {{.Noise}} mm as its points scatter, not the one stated.", data))
	case o.Inspection.Scan.Noise > 0:
		c.add(w.say("surface.U", "A point's deviation is known to ± {{.P50}} mm (k = 2), at 95 % of the points to ± {{.P95}} mm or better, with the scanner's stated noise of {{.Noise}} mm.", data))
	default:
		c.add(w.say("surface.U.seen", "A point's deviation is known to ± {{.P50}} mm (k = 2), at 95 % of the points to ± {{.P95}} mm or better, with a noise of {{.Noise}} mm as points of the scan up to 12 mm apart scatter. Noise shared over more is not in it: state the scanner's noise where it smooths.", data))
	}
	w.drifts(c, o)
}

// drifts says that the scan's own drift is in no U of a deviation, where it is known to be more than that over a panel.
func (w Writer) drifts(c *Card, o *app.Outcome) {
	for _, u := range o.Uses() {
		if u.Name == worth.ForPanels && u.Good.OK && o.Growth.Grown(u.Over) > o.Compared.Summary.U.P95 {
			c.add(w.say("surface.U.drift", "The scan's own drift is in none of these ±: over {{.Over}} the scan is good to ± {{.Good}} only.",
				fields{"Over": MM(u.Over), "Good": verdict.TwoDigits(u.Good.V) + " mm"}))
		}
	}
}
