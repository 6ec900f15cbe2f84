package words

import (
	"shutline/app"
	"shutline/deviation"
)

// points tells the named points.
func (w Writer) points(c *Card, list []app.Point) {
	for _, p := range list {
		data := fields{"Name": p.Spec.Name, "MM": WithU(p.Spot.Value, "mm"), "Why": inside(p.Spot.Why), "Verdict": w.Verdict(p.Verdict),
			"Lo": Signed(p.Spec.Tolerance.Lo), "Hi": Signed(p.Spec.Tolerance.Hi)}
		var said string
		switch {
		case !p.Spot.Value.OK:
			said = w.say("point.none", "The point {{.Name}} has no value: {{.Why}}.", data)
		case p.Spec.HasTolerance:
			said = w.say("point.judged", "The point {{.Name}} reads {{.MM}} (allowed {{.Lo}} to {{.Hi}}): {{.Verdict}}.", data)
		default:
			said = w.say("point", "The point {{.Name}} reads {{.MM}}.", data)
		}
		if p.Spot.Value.OK && p.Spot.Shape > 0 {
			said += " " + w.say("point.shape", "The points within {{.Radius}} mm differ by {{.Shape}} mm in shape: an edge or a step lies in the radius; make radius smaller.",
				fields{"Radius": fixed(p.Spec.Radius, 1), "Shape": fixed(p.Spot.Shape, 1)})
		}
		at := p.Spec.At
		c.Found = append(c.Found, Sentence{Text: said, At: &at})
	}
}

// astray says what to do about points that are not on the reference: their place is wrong, and no other scan gives them a
// value. It reports whether there are any.
func (w Writer) astray(c *Card, list []app.Point) bool {
	var names []string
	for _, p := range list {
		if p.Spot.State == deviation.OffReference {
			names = append(names, p.Spec.Name)
		}
	}
	data := fields{"Names": w.list(names)}
	switch len(names) {
	case 0:
		return false
	case 1:
		c.next(w.say("point.next.astray", "The point {{.Names}} does not lie on the part, as said above: mend its place (at) in the inspection file, in mm in the reference's frame. A digit, a sign or an axis may have slipped; scanning more gives it no value.", data))
	default:
		c.next(w.say("points.next.astray", "The points {{.Names}} do not lie on the part, as said above: mend their places (at) in the inspection file, in mm in the reference's frame. Digits, signs or axes may have slipped, or they are in another frame; scanning more gives them no value.", data))
	}
	return true
}

// beside is what was compared without the points that are not on the reference.
func beside(c *app.Compared) *app.Compared {
	rest := *c
	rest.Points = nil
	for _, p := range c.Points {
		if p.Spot.State != deviation.OffReference {
			rest.Points = append(rest.Points, p)
		}
	}
	return &rest
}

// doubtful says that nothing can be accepted, with both numbers.
func (w Writer) doubtful(d app.Doubtful) string {
	data := fields{"What": d.What, "U": fixed(d.U, 3), "Half": fixed(d.Half, 3)}
	if d.Shape > 0 {
		data["Radius"] = fixed(d.Radius, 1)
		return w.say("accept.none.shape", "Nothing can be accepted for {{.What}}: U is {{.U}} mm (k = 2), larger than half the tolerance, {{.Half}} mm. The shape within its radius of {{.Radius}} mm makes it, no noise: make radius smaller.", data)
	}
	return w.say("accept.none", "Nothing can be accepted for {{.What}}: U is {{.U}} mm (k = 2), larger than half the tolerance, {{.Half}} mm. A scan with less noise can accept something, or a wider tolerance where the job allows it.", data)
}
