package verdict

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Gap 4.0 ± 0.5 with a standard uncertainty of 0.1. ISO 14253-1:2017 by
// secondary summaries: conformity is proven inside the tolerance shrunk by the
// guard band, non-conformity outside the tolerance widened by it. The guard
// 1.645 u (95 % one-sided, its default since 2017) gives the limits 3.6645,
// 4.3355, 3.3355 and 4.6645; 2 u gives 3.7 and 4.3. Arithmetic by hand.
func TestDecideByISO14253(t *testing.T) {
	tol := Tolerance{3.5, 4.5}
	const u = 0.1
	for _, c := range []struct {
		v, guard float64
		want     Verdict
	}{
		{4.0, 1.645 * u, Conforms},
		{4.335, 1.645 * u, Conforms}, {4.336, 1.645 * u, Undecided},
		{3.665, 1.645 * u, Conforms}, {3.664, 1.645 * u, Undecided},
		{4.664, 1.645 * u, Undecided}, {4.665, 1.645 * u, DoesNotConform},
		{3.336, 1.645 * u, Undecided}, {3.335, 1.645 * u, DoesNotConform},
		{4.299, 2 * u, Conforms}, {4.301, 2 * u, Undecided},
		{3.701, 2 * u, Conforms}, {3.699, 2 * u, Undecided},
		{4.699, 2 * u, Undecided}, {4.701, 2 * u, DoesNotConform},
	} {
		require.Equal(t, c.want, DecideGuarded(Value{c.v, 2 * u, true}, tol, c.guard), "%v with guard %v", c.v, c.guard)
	}
	require.Equal(t, Conforms, Decide(Value{4.299, 0.2, true}, tol))
	require.Equal(t, Undecided, Decide(Value{4.301, 0.2, true}, tol), "the guard band is U, k = 2, by default")
}

// Without uncertainty the tolerance itself decides, both limits included.
func TestDecideWithoutGuardBand(t *testing.T) {
	tol := Tolerance{-0.5, 0.5}
	for v, want := range map[float64]Verdict{-0.5: Conforms, 0.5: Conforms, 0: Conforms, 0.5000001: DoesNotConform, -0.5000001: DoesNotConform} {
		require.Equal(t, want, Decide(Value{v, 0, true}, tol), "%v", v)
	}
}

func TestDecideAtTheGuardBandItself(t *testing.T) {
	tol := Tolerance{-0.5, 0.5}
	// Sums exact in binary: 0.5 - 0.25 and 0.5 + 0.25.
	require.Equal(t, Conforms, Decide(Value{0.25, 0.25, true}, tol))
	require.Equal(t, DoesNotConform, Decide(Value{0.75, 0.25, true}, tol))
	require.Equal(t, DoesNotConform, Decide(Value{-0.75, 0.25, true}, tol))
}

// An uncertainty above half the tolerance can prove no value good.
func TestNothingConformsWithTooLargeAnUncertainty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-2, 2).Draw(t, "v")
		require.NotEqual(t, Conforms, Decide(Value{v, 0.51, true}, Tolerance{-0.5, 0.5}))
	})
}

// More uncertainty can only turn a decision into undecided, and a value and its
// mirror image are judged alike.
func TestDecideIsMonotonousAndSymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-2, 2).Draw(t, "v")
		u := rapid.Float64Range(0, 1).Draw(t, "U")
		more := u + rapid.Float64Range(0, 1).Draw(t, "more")
		tol := Tolerance{-0.5, 0.5}
		got, wider := Decide(Value{v, u, true}, tol), Decide(Value{v, more, true}, tol)
		require.Contains(t, []Verdict{got, Undecided}, wider)
		require.Equal(t, got, Decide(Value{-v, u, true}, tol))
	})
}

func TestNoNumberIsUndecided(t *testing.T) {
	require.Equal(t, Undecided, Decide(Value{}, Tolerance{-1, 1}))
	nan := Value{V: zero / zero, OK: true}
	require.Equal(t, Undecided, Decide(nan, Tolerance{-1, 1}))
	require.Equal(t, Undecided, Decide(Value{V: 0, U: zero / zero, OK: true}, Tolerance{-1, 1}))
}

var zero = 0.0

func TestWorst(t *testing.T) {
	require.Equal(t, NotJudged, Worst())
	require.Equal(t, Conforms, Worst(NotJudged, Conforms))
	require.Equal(t, Undecided, Worst(Conforms, Undecided, Conforms))
	require.Equal(t, DoesNotConform, Worst(Undecided, DoesNotConform, Conforms))
	require.Equal(t, []string{"", "conforms", "undecided", "does not conform"},
		[]string{NotJudged.String(), Conforms.String(), Undecided.String(), DoesNotConform.String()})
}
