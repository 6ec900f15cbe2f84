package gapflush

import (
	"fmt"

	"shutline/deviation/verdict"
)

// Kinds of checks, as tables have them.
const (
	Parallelism = "parallelism"
	StepOfGap   = "step of gap"
	StepOfFlush = "step of flush"
)

// Check is what a seam as a whole is held to besides its stations' tolerances and the taper of all of it.
type Check struct {
	Seam     string
	Kind     string // "taper over 300 mm", [Parallelism], [StepOfGap] or [StepOfFlush]
	Unit     string // "mm" or "mm per 100 mm"
	Value    verdict.Value
	Limit    verdict.Tolerance // an infinite limit is none
	From, To float64           // mm along the path: the stretch of the value
	Over     float64           // mm, the length of stretch that was asked for; 0 where none was
	Verdict  verdict.Verdict   // of that value; undecided without one
	Why      string            // when there is no number
}

// Hold returns the result with what its seam as a whole is held to, and with a verdict that is no better than any of it. It stays
// as it is itself; checks that it was held to before are forgotten.
func (r *Result) Hold(checks []Check) *Result {
	bare := r.Bare()
	if len(checks) == 0 {
		return bare
	}
	held := *bare
	held.bare, held.Checks = bare, checks
	for _, c := range checks {
		held.Verdict = verdict.Worst(held.Verdict, c.Verdict)
	}
	return &held
}

// Bare returns the result as it was before it was held to checks.
func (r *Result) Bare() *Result {
	if r.bare != nil {
		return r.bare
	}
	return r
}

// Part is one of what a seam's verdict is the worst of.
type Part struct {
	What    string // "gap", "flush", "taper", the kind of a check, "5 of 34 stations without a number"
	Verdict verdict.Verdict
}

// Parts returns what the seam's verdict is the worst of: gap and flush, also where they are not judged, and whatever else it
// was held to. None of a seam that was not measured.
func (r *Result) Parts() []Part {
	if r.Unlaid != "" {
		return nil
	}
	gap, flush := Part{What: "gap"}, Part{What: "flush"}
	for i := range r.Stations {
		gap.Verdict = verdict.Worst(gap.Verdict, r.Stations[i].GapVerdict)
		flush.Verdict = verdict.Worst(flush.Verdict, r.Stations[i].FlushVerdict)
	}
	// What is to be judged and has no number is open.
	if r.Seam.Gap.Judged && gap.Verdict == verdict.NotJudged {
		gap.Verdict = verdict.Undecided
	}
	if r.Seam.Flush.Judged && flush.Verdict == verdict.NotJudged {
		flush.Verdict = verdict.Undecided
	}
	parts := []Part{gap, flush}
	if r.TaperVerdict != verdict.NotJudged {
		parts = append(parts, Part{"taper", r.TaperVerdict})
	}
	for _, c := range r.Checks {
		parts = append(parts, Part{c.Kind, c.Verdict})
	}
	if missing, tooMany := r.Missing(); tooMany {
		parts = append(parts, Part{fmt.Sprintf("%d of %d stations without a number", missing, len(r.Stations)), verdict.Undecided})
	}
	return parts
}

// ofTheWhole returns what of the seam as a whole, its taper and its checks, has a verdict.
func (r *Result) ofTheWhole(v verdict.Verdict) (what []string) {
	if r.TaperVerdict == v {
		what = append(what, "taper")
	}
	for _, c := range r.Checks {
		if c.Verdict == v {
			what = append(what, c.Kind)
		}
	}
	return what
}

// Missing counts the stations without a number that is judged, gaps unless only flushes are, and reports whether they are so many
// that the seam is undecided at best.
func (r *Result) Missing() (n int, tooMany bool) {
	flushOnly := !r.Seam.Gap.Judged && r.Seam.Flush.Judged
	for i := range r.Stations {
		if s := &r.Stations[i]; flushOnly && !s.Flush.OK || !flushOnly && s.State != Measured {
			n++
		}
	}
	judged := r.Seam.Gap.Judged || r.Seam.Flush.Judged || r.Seam.Taper.Judged
	return n, judged && float64(n) > unmeasuredShare*float64(len(r.Stations))
}

// Words returns what a short line says of the seam's verdict, the fullest wording first: what was judged, where not both gap and
// flush were, and what it hangs on, where it is no station. nil where nothing was judged.
func (r *Result) Words() []string {
	word := r.Verdict.String()
	if r.Verdict == verdict.NotJudged {
		return nil
	}
	if r.Verdict == verdict.Conforms {
		switch gap, flush := r.Seam.Gap.Judged, r.Seam.Flush.Judged; {
		case gap && !flush:
			return []string{"gap conforms, flush not judged", "gap conforms"}
		case flush && !gap:
			return []string{"flush conforms, gap not judged", "flush conforms"}
		case !gap:
			whole := r.ofTheWhole(verdict.Conforms)
			said := fmt.Sprintf("%d checks of the whole seam: %s", len(whole), word)
			if len(whole) == 1 {
				said = whole[0] + " " + word
			}
			return []string{said + ", gap and flush not judged", said}
		}
		return []string{word}
	}
	switch what := r.HangsOn(); {
	case len(what) == 1:
		return []string{what[0] + " " + word, word}
	case len(what) > 1:
		return []string{fmt.Sprintf("%d checks of the whole seam: %s", len(what), word), word}
	}
	return []string{word}
}

// HangsOn returns what of the seam as a whole has its verdict, where no station has it: what it alone hangs on. nil of one that
// conforms, and where stations without a number leave it open.
func (r *Result) HangsOn() []string {
	if r.Verdict <= verdict.Conforms || r.Open || r.Unlaid != "" {
		return nil
	}
	if _, tooMany := r.Missing(); tooMany && r.Verdict == verdict.Undecided {
		return nil
	}
	for i := range r.Stations {
		if s := &r.Stations[i]; verdict.Worst(s.GapVerdict, s.FlushVerdict) == r.Verdict {
			return nil
		}
	}
	return r.ofTheWhole(r.Verdict)
}
