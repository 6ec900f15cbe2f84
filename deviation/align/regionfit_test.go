package align

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// cornerRegions are three corners of the wedge that the bump does not reach.
func cornerRegions() []Region {
	return []Region{{geom.Vec{Z: 250}, 90}, {geom.Vec{X: 600}, 90}, {tapered(geom.Vec{X: 600, Y: 400, Z: 250}), 90}}
}

// Truth: planes by formula. The uncertainty is that of a best fit, so each direction
// must lie within three times its own.
func TestRegionsFindTheTruth(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{X: 1, Y: 1}, 2)
	scanFromReference.T = geom.Vec{X: 300, Y: -200, Z: 90}
	p, err := NewPlacer(context.Background(), blockScan(7, 0.02, 3, scanFromReference), surfaceOf(t, wedge(20)), Settings{Noise: 0.02})
	require.NoError(t, err)
	got, err := p.Regions(context.Background(), cornerRegions(), nil)
	require.NoError(t, err)
	require.Equal(t, "best-fit", got.Method)
	require.LessOrEqual(t, got.Regions.LastStep, regionSettled)
	// A corner of 90 mm has three quarters of a disc's area, 19 000 mm²: at 7 mm some 390 points, more where the taper packs them.
	for k, u := range got.Regions.Used {
		require.InDelta(t, 390, u.Points, 130, k)
	}
	require.Less(t, float64(got.PointsUsed), 1.0+float64(got.Regions.Used[0].Points+got.Regions.Used[1].Points+got.Regions.Used[2].Points))
	// However many regions stand before it, each counts.
	many := append(slices.Repeat(cornerRegions()[:1], 300), cornerRegions()[1:]...)
	again, err := p.Regions(context.Background(), many, nil)
	require.NoError(t, err)
	require.Equal(t, got.ReferenceFromScan, again.ReferenceFromScan)
	along := got.Along(got.ReferenceFromScan.After(scanFromReference))
	for k, d := range got.Directions {
		require.Less(t, math.Abs(along[k]), 3*d.Sigma, k)
	}
}

func TestRegionsSayWhatIsWrong(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{X: 1, Y: 1}, 2)
	back := scanFromReference.Inverse()
	scan := bodywork.Without(blockScan(7, 0.02, 3, scanFromReference), func(c geom.Vec) bool {
		return back.Apply(c).Dist(tapered(geom.Vec{X: 600, Y: 400, Z: 250})) < 100
	})
	p, err := NewPlacer(context.Background(), scan, surfaceOf(t, wedge(20)), Settings{Noise: 0.02})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		regions []Region
		says    []string
	}{
		"off the reference": {[]Region{cornerRegions()[0], {geom.Vec{X: 900, Y: 200, Z: 100}, 50}}, []string{"region 2: the reference is 300", "radius of 50 mm"}},
		"not scanned":       {cornerRegions(), []string{"region 3: no scan point lies on the reference inside it; the nearest scan point is 9", "radius is 90 mm"}},
		"a plane":           {[]Region{{tapered(geom.Vec{X: 100, Y: 300, Z: 250}), 80}}, []string{"hold only 3 of the 6 motions", "slide along X", "slide along Y", "turn about an axis along Z"}},
		"too few":           {[]Region{{tapered(geom.Vec{X: 100, Y: 300, Z: 250}), 9}}, []string{"scan points lie in the regions, at least 50"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := p.Regions(context.Background(), c.regions, nil)
			require.ErrorIs(t, err, ErrRegions)
			for _, s := range c.says {
				require.ErrorContains(t, err, s)
			}
		})
	}
}
