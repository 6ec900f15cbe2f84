package inspection

import (
	"fmt"
	"strings"

	"shutline/deviation/scanplan"
)

// longestPath is the longest way of a scanner, mm: some hours round a coach.
const longestPath = 1e7

// plan reads how the next scan is to be planned.
func (r *reader) plan(v any) *Plan {
	if v == nil {
		return nil
	}
	t := r.table("plan", v, r.note, "wanted", "path", "seen")
	p := &Plan{Wanted: t.positive("wanted", 0, mostOff, "mm"), Path: t.positive("path", 0, longestPath, "mm")}
	if !t.has("wanted") {
		r.fail("plan", "wanted is missing; write wanted = 1.0, the error in mm that the part's length may have")
	}
	if !t.has("path") {
		t.fallback("path", "not known")
	}
	for k, e := range t.array("seen") {
		path := indexed("plan.seen", k)
		s := r.table(path, e, nil, "path", "off")
		x := scanplan.Seen{Path: s.positive("path", 0, longestPath, "mm"), Error: s.positive("off", 0, mostOff, "mm")}
		if !s.has("path") || !s.has("off") {
			r.fail(path, "must be written { path = 50000, off = 10 }: how far the scanner travelled and how far off it came back, in mm")
		}
		p.Seen = append(p.Seen, x)
	}
	return p
}

// array returns the entries of a list; a key that is left out has none.
func (t table) array(key string) []any {
	v, ok := t.m[key]
	if !ok {
		return nil
	}
	a, ok := v.([]any)
	if !ok {
		t.d.fail(joined(t.path, key), "must be a list, not %s", kindOf(v))
	}
	return a
}

func (e *encoder) plan(p *Plan) {
	if p == nil {
		return
	}
	e.line("\n[plan]\nwanted = %s", number(p.Wanted))
	if p.Path > 0 {
		e.line("path = %s", number(p.Path))
	}
	if len(p.Seen) > 0 {
		seen := make([]string, len(p.Seen))
		for k, s := range p.Seen {
			seen[k] = fmt.Sprintf("{ path = %s, off = %s }", number(s.Path), number(s.Error))
		}
		e.line("seen = [%s]", strings.Join(seen, ", "))
	}
}
