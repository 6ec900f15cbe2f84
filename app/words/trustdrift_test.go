package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation/drift"
	"shutline/deviation/scanplan"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/geom"
)

// That no drift is seen is said without more only where the surface holds every shape well and follows them.
func TestNoDriftIsSaidOfWhatIsHeld(t *testing.T) {
	clean := func() *drift.Result {
		r := &drift.Result{OK: true, Frame: drift.Frame{Axes: [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Size: [3]float64{4000, 1700, 1400}}}
		for k := range r.Terms {
			r.Terms[k] = drift.Term{Kind: drift.Kind(k), Held: true, Size: verdict.Value{V: 0.01, U: 0.04, OK: true}}
		}
		return r
	}
	said := func(r *drift.Result) (headline, found string) {
		c := words.Writer{}.Drift(r)
		for _, s := range c.Found {
			found += s.Text + "\n"
		}
		return c.Headline, found
	}
	headline, found := said(clean())
	require.Equal(t, "No drift is seen", headline)
	require.NotContains(t, found, "roughly")

	r := clean()
	r.Aside = 0.45
	headline, _ = said(r)
	require.Contains(t, headline, "45.0 % of the area follows none")

	r = clean()
	r.Terms[drift.ScaleLong].Held = false
	headline, found = said(r)
	require.Equal(t, "No drift is seen in what this surface holds", headline)
	require.Contains(t, found, "Not held by this surface, so without a number: scale along the long axis (X)")

	r.EdgesOff = true
	headline, found = said(r)
	require.Contains(t, headline, "edges lie off their places")
	require.Contains(t, found, "Measure a known length")

	r = clean()
	r.Terms[drift.BendMiddle].Size.U = 0.43
	_, found = said(r)
	require.Contains(t, found, "bend toward the middle axis (Y), held to ± 0.43 mm")
	chance, _, _ := strings.Cut(found[strings.Index(found, "Too small"):], "\n")
	require.NotContains(t, chance, "bend toward the middle axis (Y)")

	r = clean()
	r.Terms[drift.Twist] = drift.Term{Kind: drift.Twist, Held: true, Seen: true, Share: 0.4, Size: verdict.Value{V: -40, U: 6, OK: true}, Value: verdict.Value{V: -2, U: 0.3, OK: true}}
	_, found = said(r) // by hand: 2 degrees are 34.9 mrad, over 4 m 8.7 for each
	require.Contains(t, found, "a twist of −8.7 ± 1.3 mrad per metre about the long axis (X) (−40.0 ± 6.0 mm at the edge and −2.00 ± 0.30 deg, one end against the other)")
	require.True(t, words.Writer{}.Drift(r).Lacks, "what to do next is said whatever the verdict")
}

// Of two tellers the bar is known to 0.2 mm only: with it 0.33 mm for each metre, without it less (by hand: 12.706 times half of
// 0.08 mm over 2.4 m is 0.21), and that is said, so that nobody takes the bar for what spoils the scan.
func TestABarThatIsKnownBadlySaysThatItDoes(t *testing.T) {
	tellers := []worth.Teller{{Name: "scale bar", Error: 0.03, U: 0.2, Over: 1000}, {Kind: worth.Drift, Name: "drift shape", U: 0.08, Over: 2400}}
	g := worth.Estimate(tellers, worth.Settings{Noise: 0.03, Size: 2400})
	said := found(words.Writer{}.Worth(&app.Outcome{Growth: &g}))
	require.Contains(t, said, "Scale bar tells the scan's error to ± 0.20 mm only and counts with half of that: without it the figure for each metre would be 0.21 mm.")
	require.NotContains(t, said, "Drift shape tells")
	tellers[0].U = 0.02
	g = worth.Estimate(tellers, worth.Settings{Noise: 0.03, Size: 2400})
	require.NotContains(t, found(words.Writer{}.Worth(&app.Outcome{Growth: &g})), "tells the scan's error")
}

// A plan from a scan whose loop was perhaps closed by a program says that the scanner may be worse than that.
func TestAPlanFromAClosedLoopIsSaidToBeOne(t *testing.T) {
	p := scanplan.Find(scanplan.Part{Length: 4200, Width: 1700, Height: 1400}, scanplan.Growth{OK: true, Error: 2, Path: 50_000, Power: 1}, 1)
	require.NotContains(t, found(words.Writer{}.Plan(&p)), "closed this scan's loop")
	p.Closed = true
	require.Contains(t, found(words.Writer{}.Plan(&p)), "the scanner drifts by more than is seen here")
}
