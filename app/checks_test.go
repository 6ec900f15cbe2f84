package app_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// The gaps of a published example: every 100 mm 3.60, 3.70, 3.80, 3.95, 4.00, 4.10 mm have
// the slope 1.0143 mm/m and the range 0.50 mm (worked by hand).
func TestWholeSeamsAreHeldToTheirLimits(t *testing.T) {
	seam := gapflush.DefaultSeam("s", nil)
	seam.Every = 100
	seam.Taper = gapflush.Target{Judged: true, Tolerance: verdict.Tolerance{Lo: -0.12, Hi: 0.12}}
	r := &gapflush.Result{Seam: seam}
	for k, g := range []float64{3.60, 3.70, 3.80, 3.95, 4.00, 4.10} {
		r.Stations = append(r.Stations, gapflush.Station{Index: k + 1, Along: 100 * float64(k), State: gapflush.Measured,
			Gap: verdict.Value{V: g, U: 0.02, OK: true}, Flush: verdict.Value{V: 0.1 * float64(k%2), U: 0.02, OK: true}})
	}
	check := func(l inspection.SeamLimits) []app.SeamCheck {
		l.Seam = "s"
		return app.CheckSeams(&inspection.Inspection{Limits: []inspection.SeamLimits{l}}, []*gapflush.Result{r})
	}
	whole := check(inspection.SeamLimits{TaperOver: 500})
	require.Len(t, whole, 1)
	require.InDelta(t, 0.10143, whole[0].Value.V, 1e-5)
	require.InDelta(t, 0.0226/math.Sqrt(175000)*200, whole[0].Value.U, 2e-4, "from the residual standard deviation 0.0226 mm over the spread of the stations")
	require.Equal(t, verdict.Conforms, whole[0].Verdict)
	require.Equal(t, "taper over 500 mm", whole[0].Kind)

	// Over 200 mm the steepest stretch is 3.70, 3.80, 3.95: 0.125 mm per 100 mm.
	steep := check(inspection.SeamLimits{TaperOver: 200})[0]
	require.InDelta(t, 0.125, steep.Value.V, 1e-9)
	require.Equal(t, [2]float64{100, 300}, [2]float64{steep.From, steep.To})
	require.Equal(t, verdict.Undecided, steep.Verdict, "0.125 ± 0.03 at a limit of 0.12")

	// A stretch that the seam does not hold gives no number, however many stations there are.
	r.Seam.Path = []geom.Vec{{X: -50}, {X: 550}}
	long := check(inspection.SeamLimits{TaperOver: 601})[0]
	require.False(t, long.Value.OK)
	require.Equal(t, verdict.Undecided, long.Verdict)
	require.Equal(t, "it is 600 mm long, so that no stretch of 601 mm fits into it; write over = 600 or less, or leave over out: then the taper is that of all of it", long.Why)
	require.True(t, check(inspection.SeamLimits{TaperOver: 600})[0].Value.OK)

	// No shorter stretch stands for one that was asked for: of 400 mm there are two, of 600, which is longer than its stations
	// span, the whole.
	over400 := check(inspection.SeamLimits{TaperOver: 400})[0]
	require.Equal(t, 400.0, over400.To-over400.From)
	over600 := check(inspection.SeamLimits{TaperOver: 600})[0]
	require.Equal(t, [2]float64{0, 500}, [2]float64{over600.From, over600.To})
	require.InDelta(t, 0.10143, over600.Value.V, 1e-5)
	over450 := check(inspection.SeamLimits{TaperOver: 450})[0]
	require.Equal(t, [2]float64{0, 400}, [2]float64{over450.From, over450.To}, "3.60 to 4.00 rises by 0.105 mm per 100 mm, 3.70 to 4.10 by 0.1")
	require.InDelta(t, 0.105, over450.Value.V, 1e-9)

	for limit, want := range map[float64]verdict.Verdict{0.6: verdict.Conforms, 0.51: verdict.Undecided, 0.4: verdict.DoesNotConform} {
		p := check(inspection.SeamLimits{Parallel: limit})[0]
		require.InDelta(t, 0.5, p.Value.V, 1e-9)
		require.InDelta(t, 0.02*math.Sqrt2, p.Value.U, 1e-9)
		require.Equal(t, want, p.Verdict, "limit %g", limit)
	}

	s := check(inspection.SeamLimits{Step: 0.11})
	require.Equal(t, "step of gap", s[0].Kind)
	require.InDelta(t, 0.15, s[0].Value.V, 1e-9)
	require.Equal(t, [2]float64{200, 300}, [2]float64{s[0].From, s[0].To})
	require.Equal(t, verdict.DoesNotConform, s[0].Verdict)
	require.InDelta(t, 0.1, s[1].Value.V, 1e-9)
	require.Equal(t, verdict.Undecided, s[1].Verdict)

	r.Stations = r.Stations[:1]
	for _, c := range check(inspection.SeamLimits{TaperOver: 300, Parallel: 1, Step: 1}) {
		require.Equal(t, verdict.Undecided, c.Verdict)
		require.False(t, c.Value.OK)
		require.NotEmpty(t, c.Why)
	}
}

// The value that is shown has the verdict that is shown: of two steps the smaller one, known badly, is the one
// that cannot be decided.
func TestACheckShowsTheValueThatDecidesIt(t *testing.T) {
	r := &gapflush.Result{Seam: gapflush.DefaultSeam("s", nil)}
	for k, g := range []verdict.Value{{V: 4, U: 0.02, OK: true}, {V: 4.3, U: 0.02, OK: true}, {V: 4.2, U: 0.5, OK: true}, {V: 4.15, U: 0.02, OK: true}} {
		r.Stations = append(r.Stations, gapflush.Station{Index: k + 1, Along: 100 * float64(k), Gap: g})
	}
	list := app.CheckSeams(&inspection.Inspection{Limits: []inspection.SeamLimits{{Seam: "s", Step: 0.4, Parallel: 0.4}}}, []*gapflush.Result{r})
	require.Len(t, list, 3)
	for _, c := range list[:2] { // parallelism, step of gap
		require.Equal(t, verdict.Undecided, c.Verdict)
		require.Equal(t, verdict.Decide(c.Value, c.Limit), c.Verdict, "%s: %v", c.Kind, c.Value)
		require.InDelta(t, math.Hypot(0.5, 0.02), c.Value.U, 1e-12)
	}
	require.Equal(t, [2]float64{0, 200}, [2]float64{list[0].From, list[0].To}, "0.2 ± 0.5")
	require.Equal(t, [2]float64{100, 200}, [2]float64{list[1].From, list[1].To}, "0.1 ± 0.5")
}
