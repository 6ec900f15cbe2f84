package ui

import (
	"testing"

	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/closure"
	"shutline/deviation/drift"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/geom"
)

func TestTrustStandsSecondAndSaysWhatItRestsOn(t *testing.T) {
	r := newRig(t)
	bar := app.Length{Spec: inspection.Length{Name: "scale bar", HasKnown: true, Known: 1600, HasAllowed: true}, Measured: verdict.Value{V: 1600.31, U: 0.05, OK: true}, Reading: verdict.Value{V: 1600.31, U: 0.05, OK: true},
		Error: verdict.Value{V: 0.31, U: 0.06, OK: true}, ErrorPPM: 194, Allowed: 0.46, Judged: true, Verdict: verdict.Conforms}
	r.trust = &app.Trust{
		Lengths: []app.Length{bar},
		Growth: worth.Estimate([]worth.Teller{{Kind: worth.Length, Name: "scale bar", Error: 0.31, U: 0.06, Over: 1600}, {Kind: worth.Closure, Name: "closure 1", Error: 1.2, U: 0.3, Over: 2400}},
			worth.Settings{Noise: 0.03, Size: 2400}),
		Closure: &closure.Result{Travelled: 9000, Closures: []closure.Closure{{Centre: geom.Vec{X: 200, Z: 200}, Displacement: verdict.Value{V: 1.2, U: 0.3, OK: true}, Rigid: true}}},
	}
	require.True(t, r.trust.Growth.OK)
	r.open()
	r.bench.Outcome().Compared.Drift = &drift.Result{Why: "too little of it is held"}
	test.Tap(r.rows[bench.Trust])
	require.Equal(t, bench.Trust, r.bench.Shown())
	require.Equal(t, bench.Good, r.bench.Lamp(bench.Trust), "the known length conforms")
	require.Less(t, r.rows[bench.Trust].Position().Y, r.rows[bench.Place].Position().Y)
	require.Contains(t, r.rows[bench.Trust].line, "mm per metre")
	said := r.texts(r.card.content)
	for _, s := range []string{"for each metre (k = 2)", "The known length scale bar reads 1600.31", "The scan lies over itself at one place.", "the end lies 1.2", "No drift can be told: too little of it is held."} {
		require.Contains(t, said, s)
	}
	r.paint()
	r.pump("the strip", func() bool { return r.strip.chart.done != nil })
	list := lengthErrors(r.bench.Outcome())
	require.Len(t, list, 2)
	require.Equal(t, verdict.Conforms, list[0].Verdict)
	require.Equal(t, 0.46, list[0].Allowed)

	// Clicking the closure shows its place.
	for _, s := range r.trustCard(r.bench.Outcome()).Found {
		if s.At != nil {
			require.Equal(t, geom.Vec{X: 200, Z: 200}, *s.At)
			return
		}
	}
	require.Fail(t, "no place to look at")
}

func TestTrustWithoutAnythingToGoBy(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Trust)
	require.Contains(t, r.texts(r.strip.content), "measure a known length beside the part")
	require.Contains(t, r.texts(r.rows[bench.Trust]), "nothing tells yet")
	require.NotContains(t, r.texts(r.card.content), "The scan lies over itself")
}
