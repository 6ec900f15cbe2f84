package words

import (
	"fmt"
	"math"
	"strings"

	"shutline/deviation/pieces"
	"shutline/deviation/verdict"
)

// Joined words what joining pieces found: joined may be nil where no mesh was made of them; notes are those of reading and joining.
func (w Writer) Joined(r *pieces.Result, joined *pieces.Joined, notes []string) Card {
	var c Card
	different := 0
	for i := range r.Overlaps {
		if o := &r.Overlaps[i]; o.Shape == pieces.DifferentShape && o.B < len(r.Pieces) {
			different++
		}
	}
	open := 0
	for _, round := range r.Cycles {
		if !round.Closes {
			open++
		}
	}
	head := fields{"pieces": len(r.Pieces), "overlaps": len(r.Overlaps), "different": different, "open": open}
	switch {
	case different > 0:
		c.Headline = w.say("join.deformed", "{{.pieces}} pieces laid together, overlaps: {{.overlaps}}, of different shape: {{.different}}", head)
	case open > 0:
		c.Headline = w.say("join.open", "{{.pieces}} pieces laid together, overlaps: {{.overlaps}}, rounds that do not close: {{.open}}", head)
	default:
		c.Headline = w.say("join.good", "{{.pieces}} pieces laid together, overlaps: {{.overlaps}}, of the same shape wherever that can be told", head)
	}
	for _, p := range r.Pieces {
		c.add(w.piece(&p))
	}
	if different > 0 {
		c.add(w.say("join.beyond", "What a deformed piece is off by beyond its overlaps nobody sees: it is not in the uncertainty of where the pieces lie.", nil))
	}
	for i := range r.Overlaps {
		c.add(w.overlap(r, &r.Overlaps[i]))
	}
	if joined != nil {
		for _, s := range joined.Seams {
			c.add(w.say("join.seam", "Where {{.a}} and {{.b}} meet in the joined mesh, along {{.length}} mm, their skins were up to {{.most}} mm apart ({{.middle}} mm in the middle of them); they are blended, and up to {{.left}} mm of a step are left.",
				fields{"a": r.Names[s.A], "b": r.Names[s.B], "length": fmt.Sprintf("%.0f", s.Length), "most": fmt.Sprintf("%.2f", s.StepMost), "middle": fmt.Sprintf("%.2f", s.StepMedian), "left": fmt.Sprintf("%.2f", s.Left)}))
		}
	}
	for _, n := range notes { // they begin with files' names
		c.add(strings.TrimSuffix(n, ".") + ".")
	}
	if different > 0 {
		c.next(w.say("join.again", "Scan the pieces that differ again, in smaller pieces that overlap more or with markers all round; until then trust no length that runs across those overlaps.", nil))
	}
	return c
}

func (w Writer) piece(p *pieces.Placed) string {
	data := fields{"name": p.Name, "moved": fmt.Sprintf("%.2f", p.Moved), "u": verdict.TwoDigits(p.UFar), "free": freeAxes(p.Free)}
	switch {
	case p.Stays:
		return w.say("join.stays", "{{.name}} stays where it is.", data)
	case p.Free != [6]bool{}:
		return w.say("join.loose", "{{.name}} moves by up to {{.moved}} mm; too little holds it along {{.free}}, so how far it is off that way has no number.", data)
	}
	return w.say("join.moves", "{{.name}} moves by up to {{.moved}} mm, known to ±{{.u}} mm (k = 2) at the corner of its box that is known least.", data)
}

// freeAxes names motions.
func freeAxes(free [6]bool) string {
	var out []string
	for k, f := range free {
		if f {
			out = append(out, [...]string{"X", "Y", "Z", "the turn about X", "the turn about Y", "the turn about Z"}[k])
		}
	}
	return strings.Join(out, ", ")
}

func (w Writer) overlap(r *pieces.Result, o *pieces.Overlap) string {
	data := fields{
		"a": r.Names[o.A], "b": r.Names[o.B], "alone": fmt.Sprintf("%.3f", o.Alone), "after": fmt.Sprintf("%.3f", o.After), "noise": fmt.Sprintf("%.3f", o.Noise.Sigma),
		"most": fmt.Sprintf("%.2f", math.Abs(o.Most.Offset)), "at": fmt.Sprintf("(%.0f, %.0f, %.0f)", o.Most.At.X, o.Most.At.Y, o.Most.At.Z), "why": o.Why,
	}
	switch o.Shape {
	case pieces.SameShape:
		return w.say("join.same", "{{.a}} and {{.b}}: same shape; {{.alone}} mm (RMS) are left where noise explains {{.noise}} mm, {{.after}} mm with all pieces joined.", data)
	case pieces.DifferentShape:
		return w.say("join.differ", "{{.a}} and {{.b}}: different shape, up to {{.most}} mm at {{.at}} mm; {{.alone}} mm (RMS) are left where noise explains {{.noise}} mm, {{.after}} mm with all pieces joined.", data)
	}
	return w.say("join.untold", "{{.a}} and {{.b}}: whether they have the same shape cannot be told ({{.why}}); {{.alone}} mm (RMS) are left.", data)
}
