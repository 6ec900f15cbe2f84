package words

import "shutline/app"

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

// doubtful says that nothing can be accepted, with both numbers.
func (w Writer) doubtful(d app.Doubtful) string {
	data := fields{"What": d.What, "U": fixed(d.U, 3), "Half": fixed(d.Half, 3)}
	if d.Shape > 0 {
		data["Radius"] = fixed(d.Radius, 1)
		return w.say("accept.none.shape", "Nothing can be accepted for {{.What}}: U is {{.U}} mm (k = 2), larger than half the tolerance, {{.Half}} mm. The shape within its radius of {{.Radius}} mm makes it, no noise: make radius smaller.", data)
	}
	return w.say("accept.none", "Nothing can be accepted for {{.What}}: U is {{.U}} mm (k = 2), larger than half the tolerance, {{.Half}} mm. A scan with less noise can accept something, or a wider tolerance where the job allows it.", data)
}
