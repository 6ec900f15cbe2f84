package inspection

import (
	"fmt"

	"shutline/deviation/length"
	"shutline/mesh/geom"
)

// shortest is the smallest length, mm: below a micrometre no scan holds one.
const shortest = 1e-3

func (r *reader) lengths(i *Inspection, list []any) {
	names := map[string]int{}
	for k, v := range list {
		path := indexed("length", k)
		t := r.table(path, v, r.note, "name", "from", "to", "extremes", "known", "known_uncertainty", "temperature", "expansion", "allowed")
		l := Length{Name: r.name(t, fmt.Sprintf("length %d", k+1), names, k)}
		r.ends(t, &l)
		r.known(t, &l)
		l.HasTemperature = t.has("temperature")
		l.Temperature = r.temperature(t)
		l.Expansion = r.expansion(t)
		i.Lengths = append(i.Lengths, l)
		if r.err != nil {
			return
		}
	}
}

// ends reads what a length lies between: two points, two forms, or the body's farthest places along an axis.
func (r *reader) ends(t table, l *Length) {
	path := t.path
	if t.has("extremes") {
		l.Extremes = t.choice("extremes", "", "x", "y", "z")
		for _, key := range []string{"from", "to"} {
			if t.has(key) {
				r.fail(joined(path, key), "stands beside extremes, which says already what is measured; leave one of them out")
			}
		}
		return
	}
	_, first := t.m["from"].(map[string]any)
	_, second := t.m["to"].(map[string]any)
	switch {
	case first && second:
		l.Ends = &[2]length.End{r.end(t, "from"), r.end(t, "to")}
		if r.err == nil && l.Ends[0].At.Dist(l.Ends[1].At) < shortest {
			r.fail(joined(path, "to"), "must not be the same place as from, or nearer to it than %g mm", shortest)
		}
	case (first || second) && t.has("from") && t.has("to"):
		key := "from"
		if first {
			key = "to"
		}
		r.fail(joined(path, key), "is a point, and the other end a form; write both as points or both as forms, such as { plane = [x, y, z], radius = 20 }")
	default:
		l.From, l.To = t.point("from"), t.point("to")
		if r.err == nil && l.From.Dist(l.To) < shortest {
			r.fail(joined(path, "to"), "must not be the same point as from, or nearer to it than %g mm", shortest)
		}
	}
}

// forms are the keys of an end that is fitted.
var forms = []struct {
	key  string
	kind length.EndKind
}{{"plane", length.Plane}, {"cylinder", length.Cylinder}, {"sphere", length.Sphere}}

// mostForm is the largest radius of a form, mm: a wheel arch's is under half a metre.
const mostForm = 1000.0

func (r *reader) end(t table, key string) (e length.End) {
	path := joined(t.path, key)
	f := r.table(path, t.m[key], nil, "plane", "cylinder", "sphere", "radius", "axis")
	named := 0
	for _, form := range forms {
		if f.has(form.key) {
			named++
			e.Kind, e.At = form.kind, f.point(form.key)
		}
	}
	if named != 1 {
		r.fail(path, "must name one form: { plane = [x, y, z], radius = 20 }, { cylinder = [x, y, z], radius = 5 } or { sphere = [x, y, z], radius = 25 }, in mm")
	}
	e.Radius = f.positive("radius", 0, mostForm, "mm")
	if !f.has("radius") {
		r.fail(path, "radius is missing; write radius = 20: of a plane's patch, or about that of the cylinder or sphere, in mm")
	}
	if f.has("axis") {
		e.Axis = f.point("axis")
		switch {
		case e.Kind != length.Cylinder:
			r.fail(joined(path, "axis"), "belongs to a cylinder only; leave it out")
		case r.err == nil && e.Axis == (geom.Vec{}):
			r.fail(joined(path, "axis"), "has no direction; write the direction of the hole, such as [0, 0, 1]")
		}
	}
	return e
}

// known reads what the world knows about a length and what error is allowed.
func (r *reader) known(t table, l *Length) {
	l.HasKnown = t.has("known")
	l.Known = t.positive("known", 0, farthest, "mm")
	l.KnownU = t.notNegative("known_uncertainty", 0, mostOff, "mm")
	if l.HasKnown && l.Known < shortest {
		r.fail(joined(t.path, "known"), "must be at least %g mm, not %v", shortest, l.Known)
	}
	switch {
	case !l.HasKnown:
		t.fallback("known", "none (the length is measured, not compared)")
		for _, key := range []string{"allowed", "known_uncertainty"} {
			if t.has(key) {
				r.fail(joined(t.path, key), "needs known, the length the world knows, in mm; add it or leave %s out", key)
			}
		}
	case !t.has("known_uncertainty"):
		t.fallback("known_uncertainty", "0.0 mm")
	}
	l.HasAllowed = t.has("allowed")
	a := r.table(joined(t.path, "allowed"), t.m["allowed"], nil, "a", "per_metre")
	l.AllowedA = a.notNegative("a", 0, mostOff, "mm")
	l.AllowedPerMetre = a.notNegative("per_metre", 0, mostOff, "mm per metre")
	if !l.HasAllowed {
		t.fallback("allowed", "none (the error is reported, not judged)")
	} else if l.AllowedA+l.AllowedPerMetre == 0 {
		r.fail(joined(t.path, "allowed"), "must allow more than 0; write { a = 0.3, per_metre = 0.1 } in mm and mm per metre")
	}
}
