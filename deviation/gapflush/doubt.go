package gapflush

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/deviation/verdict"
)

// What is typed is doubted where it is out of proportion to what the job itself shows. Gaps of bodies are 1 to 12 mm wide
// and panels stand off by some millimetres, so that no panel is hung on by farther off than these.
const (
	farOff       = 10.0 // mm between a nominal and what is measured
	offReference = 3.0  // mm between a nominal and the reference's own, and twice the tolerance's width at least
	slipFrom     = 8.5  // times that a gap is wider than its nominal where the decimal point may have slipped
	slipTo       = 11.5
	wideHalf     = 5.0 // mm, half a tolerance that lets anything pass
	touching     = 2.0 // mm, a nominal from which on panels are not meant to touch
	touches      = 0.1 // mm, a gap that is none for a shut line: nominals that are measured are hardly ever round
)

// doubtTyped says where a typed nominal is implausible beside what is measured, or beside the reference's own where the measured
// is nearer to that, and where a tolerance lets pass what nobody can want. A nominal in doubt tells nothing of what must move.
func (j *job) doubtTyped() {
	r := j.result
	r.GapDoubt = j.doubtNominal("gap", j.seam.Gap, j.refGap, func(s *Station) verdict.Value { return s.Gap })
	r.FlushDoubt = j.doubtNominal("flush", j.seam.Flush, j.refFlush, func(s *Station) verdict.Value { return s.Flush })
	r.DoubtTolerances()
}

// DoubtTolerances notes where a tolerance, about the nominals that the stations have now, lets pass what nobody can want, in place
// of what it noted before: nominals that come from elsewhere are there only after the seam was measured.
func (r *Result) DoubtTolerances() {
	r.Notes = slices.DeleteFunc(slices.Clone(r.Notes), func(said string) bool { return slices.Contains(r.wide, said) })
	r.wide = nil
	for _, said := range []string{
		wideTolerance("gap", r.Seam.Gap, r.medianOf(func(s *Station) verdict.Value { return s.GapNominal })),
		wideTolerance("flush", r.Seam.Flush, r.medianOf(func(s *Station) verdict.Value { return s.FlushNominal })),
	} {
		if said != "" {
			r.wide, r.Notes = append(r.wide, said), append(r.Notes, said)
		}
	}
}

func (r *Result) medianOf(pick func(*Station) verdict.Value) verdict.Value {
	var all []float64
	for k := range r.Stations {
		if v := pick(&r.Stations[k]); v.OK {
			all = append(all, v.V)
		}
	}
	if len(all) == 0 {
		return verdict.Value{}
	}
	return verdict.Value{V: median(all), OK: true}
}

func (j *job) doubtNominal(name string, t Target, ref verdict.Value, pick func(*Station) verdict.Value) bool {
	m := j.result.medianOf(pick)
	if !t.HasNominal || !t.Judged || !m.OK {
		return false
	}
	n, width := t.Nominal, t.Tolerance.Hi-t.Tolerance.Lo
	wanted := n // a tolerance that does not hold its nominal is aimed at by its middle
	if t.Tolerance.Lo > 0 || t.Tolerance.Hi < 0 {
		wanted += float64((t.Tolerance.Lo + t.Tolerance.Hi) / 2)
	}
	slipped := name == "gap" && wanted > 0 && m.V >= slipFrom*wanted && m.V <= slipTo*wanted
	beside := ref.OK && math.Abs(wanted-ref.V) > max(offReference, 2*width) && math.Abs(m.V-ref.V) < math.Abs(m.V-wanted)
	if !(slipped || beside || math.Abs(wanted-m.V) > farOff) {
		return false
	}
	own := ""
	if ref.OK {
		own = fmt.Sprintf(" (the reference's own is %s mm)", mm2(ref.V))
	}
	j.note("The %s nominal of %s mm is implausible beside what is measured, %s mm in the median%s: is it typed as it was meant, in mm, with its decimal point? By how much a panel must move is not told before that is settled.", name, mm2(n), mm2(m.V), own)
	return true
}

// wideTolerance says why a tolerance about a nominal is implausible; "" where it is not.
func wideTolerance(name string, t Target, nominal verdict.Value) string {
	if !t.Judged || !nominal.OK {
		return ""
	}
	n, lo, hi := nominal.V, t.Tolerance.Lo, t.Tolerance.Hi
	switch {
	case name == "gap" && n >= touching && n+lo <= touches:
		return fmt.Sprintf("The tolerance of the gap, %s to %s mm about %s mm, is implausible: panels that touch or overlap would conform. Is it typed as it was meant, in mm?", mm2(lo), mm2(hi), mm2(n))
	case (hi-lo)/2 > wideHalf:
		return fmt.Sprintf("The tolerance of the %s, %s to %s mm about %s mm, is implausible: nearly anything would conform. Is it typed as it was meant, in mm?", name, mm2(lo), mm2(hi), mm2(n))
	}
	return ""
}

// mm2 writes a length in a sentence, with two decimals and the sign for minus.
func mm2(v float64) string { return strings.ReplaceAll(fmt.Sprintf("%.2f", v), "-", "−") }
