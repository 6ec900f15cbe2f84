package gapflush_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// One pass ends before the edge, another begins behind where that ends and lies higher: over 3 mm there are two surfaces. No station gives
// a gap for another reason than that, and what it says is by how much.
func TestPassesOverOneAnother(t *testing.T) {
	p, s := hemmed()
	for _, by := range []float64{0.2, 0.25, 0.45} {
		for _, end := range []float64{-3.4, -5} {
			one := bodywork.Without(p.Mesh, func(c geom.Vec) bool { return c.X > end && c.X < 0 })
			other := bodywork.Without(bodywork.Mapped(p.Mesh, func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{Z: by}) }), func(c geom.Vec) bool { return c.X < end-3 || c.X > 0 })
			named, gaps := 0, 0
			r := measure(t, bodywork.Together(one, other), s, gapflush.Settings{})
			for _, st := range r.Stations {
				why, do := st.Reason()
				switch {
				case st.Gap.OK:
					gaps++
				case strings.Contains(why, "doubled"):
					named++
					var apart float64
					_, after, _ := strings.Cut(why, "not joined, ")
					_, err := fmt.Sscanf(after, "%f mm", &apart)
					require.NoError(t, err, why)
					require.InDelta(t, by, apart, 0.05, "%g, %g", by, end)
					require.Contains(t, do, "Join the passes")
				}
			}
			require.GreaterOrEqual(t, named*10, (len(r.Stations)-gaps)*9, "%g, %g: %d gaps of %d", by, end, gaps, len(r.Stations))
		}
	}
	// One surface with a web that hides its nose is not doubled.
	for _, k := range bodywork.BadKinds() {
		if k.Name != "scan across the gap, partly" && k.Name != "little of the hems seen" && k.Name != "seal or flange below" && k.Name != "debris" {
			continue
		}
		trial := k.Make(3)
		bad := gapflush.DefaultSeam("trial", trial.Path)
		bad.Every = trial.Every
		for _, st := range measure(t, trial.Scan, bad, gapflush.Settings{Noise: trial.Noise}).Stations {
			require.NotContains(t, st.Why, "doubled", k.Name)
		}
	}
}
