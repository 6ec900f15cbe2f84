package gapflush

import "shutline/deviation/verdict"

// NotMeasured is the result of a seam that there is no path to measure along: no station, no value, and undecided even where
// nothing is judged, since what was asked for is not there. why is a part of a sentence that says what to change.
func NotMeasured(seam Seam, why string) *Result {
	return &Result{Seam: withDefaults(seam), Unlaid: why, Verdict: verdict.Undecided}
}
