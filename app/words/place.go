package words

import (
	"fmt"
	"math"
	"strings"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/verdict"
)

// headline says how the scan was placed.
func (w Writer) placeHeadline(pl *align.Placement, data fields) string {
	switch {
	case pl.Method == inspection.Given:
		return w.say("place.headline.given", "The scan is placed as the inspection says", nil)
	case pl.Method == inspection.None:
		return w.say("place.headline.none", "The scan is taken as it lies in its file", nil)
	case pl.Datums != nil:
		return w.say("place.headline.datums", "The scan meets the six datums", nil)
	case pl.Pairs != nil:
		data["N"], data["Left"] = len(pl.Pairs.Left), threeDecimals(pl.Pairs.RMS)
		return w.say("place.headline.pairs", "The scan is placed by {{.N}} pairs of points, which it leaves {{.Left}} apart (RMS)", data)
	case pl.Regions != nil:
		return w.say("place.headline.regions", "The scan lies on the chosen regions of the reference with an RMS of {{.RMS}}", data)
	}
	for _, free := range pl.Free {
		if free {
			return w.say("place.headline.free", "The scan lies on the reference with an RMS of {{.RMS}}, but may slide or turn along it", data)
		}
	}
	return w.say("place.headline", "The scan lies on the reference with an RMS of {{.RMS}}", data)
}

// runnerUp says how much worse the next best pose is.
func (w Writer) runnerUp(c *Card, pl *align.Placement) {
	r := pl.RunnerUp
	if pl.Method != inspection.BestFit || pl.Ambiguous || r == nil || !r.Refuted() {
		return
	}
	data := fields{"Angle": fixed(r.Angle*180/math.Pi, 0), "Apart": MM(r.Apart), "Lead": fixed(r.Lead, 1)}
	const turned = math.Pi / 180
	if r.Angle < turned {
		c.add(w.say("place.runnerup.slid", "The next best pose, up to {{.Apart}} away, explains the scan worse by {{.Lead}} standard deviations; under 2.5 it could be the right one.", data))
		return
	}
	c.add(w.say("place.runnerup", "The next best pose, turned by {{.Angle}} degrees and up to {{.Apart}} away, explains the scan worse by {{.Lead}} standard deviations; under 2.5 it could be the right one.", data))
}

func threeDecimals(mm float64) string { return fixed(mm, 3) + " mm" }

// apart writes how far two placements are apart: micrometres of a metre say nothing.
func apart(mm float64) string {
	const near = 10.0 // mm
	if mm < near {
		return threeDecimals(mm)
	}
	return MM(mm)
}

// turn writes the degrees between two placements, as many decimals as are seen on a part.
func turn(degrees float64) string {
	if degrees < 1 {
		return fixed(degrees, 4)
	}
	return fixed(degrees, 1)
}

// placedBy says how the method came to its placement.
func (w Writer) placedBy(c *Card, pl *align.Placement) {
	switch {
	case pl.Datums != nil:
		w.byDatums(c, pl.Datums)
	case pl.Pairs != nil:
		w.byPairs(c, pl)
	case pl.Regions != nil:
		n := 0
		for _, r := range pl.Regions.Used {
			n += r.Points
		}
		c.add(w.say("place.regions", "{{.Points}} scan points lie in the regions; only they were fitted. Away from the regions the part may be farther off than U says.", fields{"Points": Count(n)}))
	}
	if pl.NoSigma != "" {
		c.add(w.say("place.nosigma", "How sure the placement is has no value: {{.Why}}.", fields{"Why": pl.NoSigma}))
	}
}

func (w Writer) byDatums(c *Card, d *align.DatumFit) {
	var start, sigma []string
	for _, m := range d.Met {
		start = append(start, fixed(m.Start, 3))
		sigma = append(sigma, verdict.TwoDigits(2*m.Sigma))
	}
	data := fields{"Start": strings.Join(start, ", "), "U": strings.Join(sigma, ", "), "N": d.Rounds}
	c.add(w.say("place.datums", "Along the datums, 1 to 6, the best fit had the scan {{.Start}} mm off; after {{.N}} steps each is met.", data))
	c.add(w.say("place.datums.u", "Where the scan's surface is at them is known to ± {{.U}} mm (k = 2).", data))
}

func (w Writer) byPairs(c *Card, pl *align.Placement) {
	var left []string
	for _, l := range pl.Pairs.Left {
		left = append(left, fixed(l.Left, 3))
	}
	const most = 12
	if len(left) > most {
		left = append(left[:most], "…")
	}
	c.add(w.say("place.pairs", "Left between the pairs, in their order: {{.Left}} mm. What is left at the pairs does not say how far off the part is elsewhere.", fields{"Left": strings.Join(left, ", ")}))
	if pl.Pairs.Farthest > 0 {
		c.add(w.say("place.pairs.farthest", "A pair is typically off by {{.One}}, so the corner of the part that suffers most is off by {{.Far}} (root mean square).",
			fields{"One": threeDecimals(pl.Pairs.FLE), "Far": threeDecimals(pl.Pairs.Farthest)}))
	}
}

// others sets the other methods' placements beside the one used.
func (w Writer) others(c *Card, p *app.Placed) {
	for _, o := range p.Others {
		data := fields{"Method": w.method(o.Method), "Why": strings.TrimSuffix(o.Why, "."), "Far": apart(o.Greatest), "Shift": apart(o.Shift.Norm()),
			"Turn": turn(o.Turn.Norm() * 180 / math.Pi), "RMS": MM(o.Placement.RMS)}
		switch {
		case o.Why != "":
			c.add(w.say("place.other.none", "By {{.Method}} there is no placement: {{.Why}}.", data))
		case o.Placement.RMSKnown:
			c.add(w.say("place.other", "By {{.Method}} the scan would lie up to {{.Far}} elsewhere: {{.Shift}} in the middle, turned by {{.Turn}} degrees, with an RMS of {{.RMS}}.", data))
		default:
			c.add(w.say("place.other.far", "By {{.Method}} the scan would lie up to {{.Far}} elsewhere: {{.Shift}} in the middle, turned by {{.Turn}} degrees, and nowhere near the reference.", data))
		}
	}
	fit, hold := -1, -1
	for k, o := range p.Others {
		switch {
		case o.Why != "":
		case o.Method == inspection.BestFit:
			fit = k
		case o.Method == inspection.Datums:
			hold = k
		}
	}
	byFit, byDatums := p.Placement.Method == inspection.BestFit && hold >= 0, p.Placement.Method == inspection.Datums && fit >= 0
	if byFit || byDatums {
		c.add(w.say("place.spread", "A best fit spreads what is wrong over the whole part; datums leave it where it is.", nil))
	}
}

// method names a method of placing in a sentence.
func (w Writer) method(m string) string {
	switch m {
	case inspection.BestFit:
		return w.say("place.by.fit", "best fit on the whole part", nil)
	case inspection.Datums:
		return w.say("place.by.datums", "datums", nil)
	case inspection.Pairs:
		return w.say("place.by.pairs", "point pairs", nil)
	case inspection.Given:
		return w.say("place.by.given", "the matrix in the inspection", nil)
	}
	return w.say("place.by.regions", "best fit on regions", nil)
}

// placeNext says what to do about a placement by pairs that is not sure; ok is
// false where there is nothing of the kind to say.
func (w Writer) placeNext(c *Card, pl *align.Placement) (ok bool) {
	switch {
	case pl.Pairs != nil && pl.Pairs.Wrong >= 0:
		c.next(w.say("place.next.pair", "Check pair {{.Pair}}: its scan point, its reference point, and whether both are the same place of the part.", fields{"Pair": fmt.Sprint(pl.Pairs.Wrong + 1)}))
	case pl.NoSigma != "" && !pl.RMSKnown && len(pl.Pairs.Left) > 3:
		c.next(w.say("place.next.beside", "Check that the pairs' points are in the scan's and in the reference's own frames, and in millimetres.", nil))
	case pl.NoSigma != "":
		c.next(w.say("place.next.nosigma", "Add a fourth pair, far from the others, and the placement gets an uncertainty.", nil))
	default:
		return false
	}
	c.Verdict = verdict.Undecided
	return true
}
