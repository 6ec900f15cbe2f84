package words

import (
	"shutline/deviation/gapflush"
)

// sides says which panel is which: a path walked the other way swaps them, and nothing else shows it.
func (w Writer) sides(c *Card, r *gapflush.Result) {
	axes, ok := r.Toward()
	if !ok {
		return
	}
	data := fields{"TowardA": w.toward(axes, -1), "TowardB": w.toward(axes, 1), "Master": w.say("seam.side.a", "side A", nil)}
	if r.Seam.Master == gapflush.B {
		data["Master"] = w.say("seam.side.b", "side B", nil)
	}
	if w.OwnFrame {
		data["TowardB"] = w.say("toward.own", "{{.Toward}} of the scan's own axes", fields{"Toward": data["TowardB"]})
	}
	if panels, ok := r.Seam.Panels(); ok {
		data["A"], data["B"] = panels[0], panels[1]
		c.add(w.say("seam.sides.named", "Side A, the {{.A}}, lies toward {{.TowardA}}, side B, the {{.B}}, toward {{.TowardB}}; if it is the other way round, turn the path about. The master, which stays, is {{.Master}}.", data))
		return
	}
	c.add(w.say("seam.sides", "Side A lies toward {{.TowardA}}, side B toward {{.TowardB}}; the master, which stays, is {{.Master}}.", data))
}

// toward words the directions of a side, sign being -1 for the opposite ones.
func (w Writer) toward(axes []gapflush.Axis, sign float64) string {
	said := ""
	for i, a := range axes {
		if i > 0 {
			said += w.say("toward.and", " and ", nil)
		}
		up := a.Sign*sign > 0
		if w.OwnFrame { // whose axes are a scanner's, not a vehicle's
			sign := "−"
			if up {
				sign = "+"
			}
			said += sign + string("xyz"[a.Axis])
			continue
		}
		switch {
		case a.Axis == 0 && up:
			said += w.say("toward.x.up", "+x (rear)", nil)
		case a.Axis == 0:
			said += w.say("toward.x.down", "−x (front)", nil)
		case a.Axis == 1 && up:
			said += w.say("toward.y.up", "+y (right)", nil)
		case a.Axis == 1:
			said += w.say("toward.y.down", "−y (left)", nil)
		case up:
			said += w.say("toward.z.up", "+z (top)", nil)
		default:
			said += w.say("toward.z.down", "−z (bottom)", nil)
		}
	}
	return said
}
