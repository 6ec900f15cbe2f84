package inspection

import "fmt"

// shortest is the smallest length, mm: below a micrometre no scan holds one.
const shortest = 1e-3

func (r *reader) lengths(i *Inspection, list []any) {
	names := map[string]int{}
	for k, v := range list {
		path := indexed("length", k)
		t := r.table(path, v, r.note, "name", "from", "to", "known", "known_uncertainty", "temperature", "expansion", "allowed")
		l := Length{Name: r.name(t, fmt.Sprintf("length %d", k+1), names, k)}
		l.From, l.To = t.point("from"), t.point("to")
		if r.err == nil && l.From.Dist(l.To) < shortest {
			r.fail(joined(path, "to"), "must not be the same point as from, or nearer to it than %g mm", shortest)
		}
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
