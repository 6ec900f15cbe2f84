package words

import (
	"strconv"
	"strings"

	"shutline/deviation/closure"
	"shutline/mesh/geom"
)

// Closure words where the scan lies over itself; ok is false where there is nothing to say.
func (w Writer) Closure(r *closure.Result) (c Card, ok bool) {
	switch {
	case r == nil || len(r.Closures) == 0 && r.Travelled == 0 && r.PathWhy == "":
		return c, false
	case len(r.Closures) == 0:
		c.Headline = w.say("closure.nowhere", "The scan lies nowhere over itself", nil)
		c.add(w.say("closure.nowhere.why", "Nothing large enough was found within {{.Reach}}: the scanner did not come back over its start, or over too little of it, or came back farther off than that, or its program merged the passes; so closure tells nothing of this scan.",
			fields{"Reach": MM(r.Reach)}))
		w.pathWhy(&c, r)
		return c, true
	case len(r.Closures) == 1:
		c.Headline = w.say("closure.once", "The scan lies over itself at one place", nil)
	default:
		c.Headline = w.say("closure.places", "The scan lies over itself at {{.N}} places", fields{"N": strconv.Itoa(len(r.Closures))})
	}
	for i := range r.Closures {
		c.add(w.closure(&r.Closures[i], r.Travelled))
	}
	if g := r.Greatest(); g.Displacement.OK && g.Displacement.V > g.Displacement.U {
		c.add(w.say("closure.means", "Lengths across the part may be off by as much as the greatest of these; gaps and flushes, over a few millimetres, are not. A program that closes the loop spreads this error and does not mend it.", nil))
	}
	w.pathWhy(&c, r)
	return c, true
}

// pathWhy says why nothing is told for each metre of the path that was stated.
func (w Writer) pathWhy(c *Card, r *closure.Result) {
	if r.PathWhy != "" {
		c.add(w.say("closure.path", "Nothing is told for each metre travelled: {{.Why}}.", fields{"Why": r.PathWhy}))
	}
}

// closure words one place.
func (w Writer) closure(c *closure.Closure, travelled float64) string {
	data := fields{"At": place(c.Centre), "D": WithU(c.Displacement, "mm"), "Step": MM(c.StepRMS)}
	switch {
	case !c.Displacement.OK && !c.Misfit:
		return w.say("closure.loose", "At {{.At}} mm two skins lie {{.Step}} apart (root mean square); too little holds them against each other to say which motion lies between them.", data)
	case !c.Displacement.OK:
		return w.say("closure.misfit", "At {{.At}} mm two skins lie {{.Step}} apart (root mean square) and no rigid motion lays them on one another: one of them, or both, has lost its shape, or a third skin lies there.", data)
	}
	var said string
	switch closes := c.Displacement.V <= c.Displacement.U; {
	case closes && len(c.Free) > 0:
		said = w.say("closure.closes.held", "At {{.At}} mm it comes back within what can be told, as far as the two skins hold each other: {{.D}}.", data)
	case closes:
		said = w.say("closure.closes", "At {{.At}} mm it comes back within what can be told: {{.D}}.", data)
	default:
		if len(c.Free) > 0 {
			said = w.say("closure.off.held", "At {{.At}} mm the end lies at least {{.D}} from the start, as far as the two skins hold each other.", data)
		} else {
			said = w.say("closure.off", "At {{.At}} mm the end lies {{.D}} from the start.", data)
		}
		if travelled > 0 {
			said += " " + w.say("closure.permetre", "That is {{.PerMetre}} for each metre travelled, or more where only a part of the way lies between.", fields{"PerMetre": fixed(c.PerMetre, 3) + " mm"})
		}
	}
	if !c.Rigid {
		said += " " + w.say("closure.shape", "No rigid motion lays one skin quite on the other: {{.Shape}} RMS of different shape stays.", fields{"Shape": MM(c.Shape)})
	}
	if len(c.Free) > 0 {
		var list []string
		for _, f := range c.Free {
			list = append(list, f.Words)
		}
		said += " " + w.say("closure.free", "Not held there, so without a number: {{.List}}.", fields{"List": strings.Join(list, "; ")})
	}
	return said
}

func place(p geom.Vec) string {
	return "(" + fixed(p.X, 0) + ", " + fixed(p.Y, 0) + ", " + fixed(p.Z, 0) + ")"
}
