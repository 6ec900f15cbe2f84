package gapflush

import "shutline/deviation/verdict"

// LeaveOpen makes undecided what was judged, of the stations as of the whole: the numbers may be those of
// another seam than the one that is meant, as where the placement that told where to cut is ambiguous.
func (r *Result) LeaveOpen() {
	r.Open = true
	for k := range r.Stations {
		s := &r.Stations[k]
		s.GapVerdict, s.FlushVerdict = verdict.Opened(s.GapVerdict), verdict.Opened(s.FlushVerdict)
	}
	r.TaperVerdict, r.Verdict = verdict.Opened(r.TaperVerdict), verdict.Opened(r.Verdict)
}
