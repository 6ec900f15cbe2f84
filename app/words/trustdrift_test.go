package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/deviation/drift"
	"shutline/deviation/verdict"
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
}
