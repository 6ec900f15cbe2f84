package gapflush

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
)

// A seam's verdict is the worst of what it is held to, and says what that is.
func TestAVerdictHoldsWhatTheWholeSeamIsHeldTo(t *testing.T) {
	r := &Result{Seam: DefaultSeam("s", nil), TaperVerdict: verdict.Conforms, Verdict: verdict.Conforms}
	for range 10 {
		r.Stations = append(r.Stations, Station{State: Measured, Gap: verdict.Value{V: 4, OK: true}, GapVerdict: verdict.Conforms})
	}
	r.Seam.Gap.Judged = true
	require.Equal(t, []string{"gap conforms, flush not judged", "gap conforms"}, r.Words())

	held := r.Hold([]Check{{Kind: "taper over 300 mm", Verdict: verdict.DoesNotConform}, {Kind: "step of gap", Verdict: verdict.Conforms}})
	require.Equal(t, verdict.DoesNotConform, held.Verdict)
	require.Equal(t, verdict.Conforms, r.Verdict)
	require.Equal(t, []string{"taper over 300 mm does not conform", "does not conform"}, held.Words())
	require.Equal(t, []Part{{"gap", verdict.Conforms}, {"flush", verdict.NotJudged}, {"taper", verdict.Conforms},
		{"taper over 300 mm", verdict.DoesNotConform}, {"step of gap", verdict.Conforms}}, held.Parts())
	// Held anew, it forgets what it was held to before.
	again := held.Hold([]Check{{Kind: "parallelism", Verdict: verdict.Undecided}})
	require.Equal(t, verdict.Undecided, again.Verdict)
	require.Equal(t, []string{"parallelism undecided", "undecided"}, again.Words())
	require.Same(t, r, again.Hold(nil))

	// Where a station has the verdict, or too many have no number, it hangs on no check alone.
	r.Stations[3].GapVerdict = verdict.Undecided
	require.Equal(t, []string{"undecided"}, r.Hold([]Check{{Kind: "parallelism", Verdict: verdict.Undecided}}).Words())
	r.Stations[3].GapVerdict, r.Stations[4].State, r.Stations[5].State = verdict.Conforms, Bridged, Bridged
	r.Verdict = verdict.Undecided
	require.Equal(t, []string{"undecided"}, r.Words())
	require.Contains(t, r.Parts(), Part{"2 of 10 stations without a number", verdict.Undecided})
}

// Where neither gap nor flush is judged, what conforms is what was: not a taper that nobody asked for.
func TestWhatConformsIsWhatWasJudged(t *testing.T) {
	r := &Result{Seam: DefaultSeam("s", nil)}
	r.Stations = append(r.Stations, Station{State: Measured})
	parallel, step := Check{Kind: Parallelism, Verdict: verdict.Conforms}, Check{Kind: StepOfGap, Verdict: verdict.Conforms}
	require.Equal(t, []string{"parallelism conforms, gap and flush not judged", "parallelism conforms"}, r.Hold([]Check{parallel}).Words())
	require.Equal(t, []string{"2 checks of the whole seam: conforms, gap and flush not judged", "2 checks of the whole seam: conforms"}, r.Hold([]Check{parallel, step}).Words())
	r.TaperVerdict, r.Verdict = verdict.Conforms, verdict.Conforms
	require.Equal(t, []string{"taper conforms, gap and flush not judged", "taper conforms"}, r.Words())
}
