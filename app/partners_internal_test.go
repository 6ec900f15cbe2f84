package app

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// straight is a seam from a to b with a station every 100 mm, the outside up along u.
func straight(a, b, u geom.Vec) *gapflush.Result {
	r := &gapflush.Result{Seam: gapflush.Seam{Name: "it", Path: []geom.Vec{a, b}, Every: 100}}
	for s := 50.0; s < b.Sub(a).Norm(); s += 100 {
		r.Stations = append(r.Stations, gapflush.Station{Along: s, P: a.Lerp(b, s/b.Sub(a).Norm()), U: u})
	}
	return r
}

// Which ends belong together follows from where they lie: by hand, on seams of 600 mm.
func TestPartnersLieTheSameWay(t *testing.T) {
	left, up := geom.Vec{Y: -1}, geom.Vec{Z: 1}
	own := straight(geom.Vec{X: 900, Y: -800, Z: 100}, geom.Vec{X: 900, Y: -800, Z: 700}, left)
	for _, c := range []struct {
		name  string
		from  *gapflush.Result
		first float64 // mm along the other's path; below 0: refused
	}{
		{"next upright seam of the same side, drawn the same way", straight(geom.Vec{X: 1900, Y: -790, Z: 90}, geom.Vec{X: 1900, Y: -790, Z: 690}, left), 50},
		{"the same, drawn downward", straight(geom.Vec{X: 1900, Y: -790, Z: 690}, geom.Vec{X: 1900, Y: -790, Z: 90}, left), 550},
		{"the other side of a body whose middle is y = 500, as mirrored seams run", straight(geom.Vec{X: 900, Y: 1800, Z: 700}, geom.Vec{X: 900, Y: 1800, Z: 100}, left.Scale(-1)), 550},
		{"the same, drawn upward, so that its sides are exchanged", straight(geom.Vec{X: 900, Y: 1800, Z: 100}, geom.Vec{X: 900, Y: 1800, Z: 700}, left.Scale(-1)), -1},
		{"a seam along the body", straight(geom.Vec{X: 900, Y: -800, Z: 700}, geom.Vec{X: 1500, Y: -800, Z: 700}, left), -1},
		{"one above it on the same line", straight(geom.Vec{X: 900, Y: -800, Z: 800}, geom.Vec{X: 900, Y: -800, Z: 1400}, left), -1},
		{"its mirror picture", straight(geom.Vec{X: 900, Y: 800, Z: 700}, geom.Vec{X: 900, Y: 800, Z: 100}, left.Scale(-1)), 550},
	} {
		at, how, why := partners(own, c.from)
		if c.first < 0 {
			require.NotEmpty(t, why, c.name)
			continue
		}
		require.Empty(t, why, c.name)
		require.NotEmpty(t, how, c.name)
		require.InDelta(t, c.first, at[0], 1e-9, c.name)
	}
	// The left and right half of an edge across the body, each from the left on, and two edges of doors behind one another.
	half := straight(geom.Vec{X: 500, Y: -700}, geom.Vec{X: 500, Y: -100}, up)
	at, _, why := partners(half, straight(geom.Vec{X: 500, Y: 100}, geom.Vec{X: 500, Y: 700}, up))
	require.Empty(t, why)
	require.InDelta(t, 550, at[0], 1e-9, "outer end with outer end, in the plane y = 0")
	_, _, why = partners(half, straight(geom.Vec{X: 500, Y: 200}, geom.Vec{X: 500, Y: 800}, up))
	require.NotEmpty(t, why, "the middle is not y = 0")
}
