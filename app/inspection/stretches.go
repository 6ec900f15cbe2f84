package inspection

import (
	"fmt"

	"shutline/deviation/verdict"
)

// Stretch is a part of a seam with tolerances of its own. It is measured as a seam for
// itself, and so is what lies between stretches, with the seam's own tolerances.
type Stretch struct {
	Seam               string
	From, To           float64 // mm along the path
	HasGap, HasFlush   bool
	GapOff, FlushOff   verdict.Tolerance // offsets from the nominals
	GapWant, FlushWant float64           // mm, the nominals
	OwnGap, OwnFlush   bool              // the stretch has nominals of its own
}

// Complete reports whether every seam has its whole path and one set of tolerances;
// else the seams to be measured come from app.LaySeams.
func (i *Inspection) Complete() bool { return i.AllTyped() && len(i.Stretches) == 0 }

// mostStretches of one seam: more than a seam has bends.
const mostStretches = 100

// stretches reads a seam's list of stretches, in order along the path and without overlaps.
func (r *reader) stretches(t table, seam string) {
	list := r.entries(t, "stretch", "{ from = 0, to = 300, gap = { tolerance = [-1, 1] } }")
	if len(list) > mostStretches {
		r.fail(joined(t.path, "stretch"), "has %d stretches; more than %d are not taken", len(list), mostStretches)
	}
	end := 0.0
	for k, v := range list {
		path := indexed(joined(t.path, "stretch"), k)
		e := r.table(path, v, nil, "from", "to", "gap", "flush")
		s := Stretch{Seam: seam, From: e.notNegative("from", end, farthest, "mm"), To: e.positive("to", 0, farthest, "mm")}
		switch {
		case r.err != nil:
			return
		case !e.has("to"):
			r.fail(path, "to is missing; a stretch ends so many mm along the path")
		case s.From < end:
			r.fail(path, "begins at %v mm, before the stretch above ends (%v mm); write them in order along the path", s.From, end)
		case s.To <= s.From:
			r.fail(path, "must end after it begins (%v mm), not at %v mm", s.From, s.To)
		case !e.has("gap") && !e.has("flush"):
			r.fail(path, "changes nothing; write gap or flush with a tolerance")
		}
		s.HasGap, s.OwnGap, s.GapWant, s.GapOff = r.stretched(e, "gap")
		s.HasFlush, s.OwnFlush, s.FlushWant, s.FlushOff = r.stretched(e, "flush")
		end = s.To
		r.parts = append(r.parts, s)
	}
}

func (r *reader) stretched(t table, key string) (has, own bool, nominal float64, off verdict.Tolerance) {
	v, ok := t.m[key]
	if !ok {
		return
	}
	s := r.table(joined(t.path, key), v, nil, "nominal", "tolerance")
	if r.err == nil && !s.has("tolerance") {
		r.fail(s.path, "needs a tolerance")
	}
	x := s.rising("tolerance", [2]float64{}, mostOff, "mm")
	nominal = s.number("nominal", 0)
	s.atMost("nominal", nominal, mostOff, "mm")
	return true, s.has("nominal"), nominal, verdict.Tolerance{Lo: x[0], Hi: x[1]}
}

// StretchesOf returns a seam's stretches, in order along it.
func (i *Inspection) StretchesOf(seam string) (list []Stretch) {
	for _, s := range i.Stretches {
		if s.Seam == seam {
			list = append(list, s)
		}
	}
	return list
}

func (e *encoder) stretches(list []Stretch) {
	if len(list) == 0 {
		return
	}
	e.line("stretch = [")
	one := func(key string, has, own bool, nominal float64, off verdict.Tolerance) string {
		switch {
		case !has:
			return ""
		case own:
			return fmt.Sprintf(", %s = { nominal = %s, tolerance = %s }", key, number(nominal), interval(off))
		}
		return fmt.Sprintf(", %s = { tolerance = %s }", key, interval(off))
	}
	for _, s := range list {
		e.line("  { from = %s, to = %s%s%s },", number(s.From), number(s.To),
			one("gap", s.HasGap, s.OwnGap, s.GapWant, s.GapOff), one("flush", s.HasFlush, s.OwnFlush, s.FlushWant, s.FlushOff))
	}
	e.line("]")
}
