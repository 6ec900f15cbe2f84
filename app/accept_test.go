package app_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// U over half the tolerance leaves nothing to accept (ISO 14253-1 with the guard
// band U): foretold from a stated noise, with both numbers, before anything is measured.
func TestNothingAcceptableIsForetold(t *testing.T) {
	i := job(t, dish(0, 1), dish(0.1, 1))
	i.Place.Method, i.Scan.Noise = inspection.None, 0.3
	i.Surface.HasShare, i.Surface.Share = true, 0.9
	i.Points = []inspection.Point{
		{Name: "A", At: geom.Vec{X: 400, Y: 300, Z: 60}, Radius: 60, HasTolerance: true, Tolerance: verdict.Tolerance{Lo: -0.1, Hi: 0.1}},
		{Name: "B", At: geom.Vec{X: 400, Y: 300, Z: 60}, Radius: 60, HasTolerance: true, Tolerance: verdict.Tolerance{Lo: -0.9, Hi: 0.9}},
		{Name: "C", At: geom.Vec{X: 400, Y: 300, Z: 60}, Radius: 60},
	}
	parts, err := app.LoadParts(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	found := app.Foresee(i, parts)
	require.Len(t, found, 2)
	require.Equal(t, app.Doubtful{What: "the surface", U: 0.6, Half: 0.5}, found[0])
	require.Equal(t, "the point A", found[1].What)
	require.Equal(t, 0.1, found[1].Half)
	// 2 · 0.3 · √(4/n) for the n = 28 points of 20 mm squares on the disc: at best.
	require.InDelta(t, 0.226, found[1].U, 0.01)
	require.Contains(t, parts.Notes, found[0].String())
	require.Contains(t, found[0].String(), "U will be at least 0.600 mm (k = 2), larger than half the tolerance, 0.500 mm")

	i.Scan.Noise = 0
	require.Empty(t, app.Foresee(i, parts), "an unknown noise foretells nothing")
	i.Scan.Noise = 0.05
	require.Empty(t, app.Foresee(i, parts))
}

func TestNothingAcceptableIsToldAfterwards(t *testing.T) {
	i := inspection.Default("s.stl", "r.stl")
	i.Surface.HasShare = true
	c := &app.Compared{Summary: deviation.Summary{U: deviation.UFigures{OK: true, P50: 0.7}}}
	c.Points = []app.Point{{Spec: inspection.Point{Name: "A", HasTolerance: true, Tolerance: verdict.Tolerance{Lo: -0.1, Hi: 0.2}}, Spot: deviation.Spot{Value: verdict.Value{U: 0.16, OK: true}}}}
	found := c.Unacceptable(i)
	require.Len(t, found, 2)
	require.Contains(t, found[0].String(), "U is 0.700 mm (k = 2), larger than half the tolerance, 0.500 mm")
	require.Contains(t, found[1].String(), "the point A: U is 0.160 mm (k = 2), larger than half the tolerance, 0.150 mm; a scan with less noise")
	c.Points[0].Spot.Shape, c.Points[0].Spec.Radius = 2, 11.4
	said := c.Unacceptable(i)[1].String()
	require.Contains(t, said, "the points within 11.4 mm differ by 2 mm in shape: an edge or a step lies in the radius; make radius smaller")
	require.NotContains(t, said, "less noise")

	r := &gapflush.Result{Seam: gapflush.DefaultSeam("wing to door", nil)}
	r.Seam.Gap = gapflush.Target{Judged: true, Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}}
	r.Seam.Flush = r.Seam.Gap
	require.Empty(t, app.UnacceptableSeam(r), "without a number there is no U")
	r.Stations = []gapflush.Station{{Gap: verdict.Value{U: 0.9, OK: true}}, {Gap: verdict.Value{U: 0.6, OK: true}, Flush: verdict.Value{U: 0.1, OK: true}}}
	found = app.UnacceptableSeam(r)
	require.Len(t, found, 1)
	require.Equal(t, "any gap of wing to door", found[0].What)
	require.Equal(t, 0.6, found[0].U)
}

// A point counts into the verdict of the inspection; without a value it is undecided.
func TestPointsCountIntoTheVerdict(t *testing.T) {
	i := job(t, dish(0.3, 1), dish(0, 1))
	i.Place.Method, i.Scan.Noise = inspection.None, 0.01
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	i.Points = []inspection.Point{{Name: "A", At: geom.Vec{X: 600, Y: 400, Z: 60}, Radius: 50, HasTolerance: true, Tolerance: tol}}
	i.Surface.Reach = 200
	o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.Conforms, o.Verdict)
	require.InDelta(t, 0.28, o.Compared.Points[0].Spot.Value.V, 0.03, "0.3 mm along z, less along the normal")
	i.Points[0].Tolerance = verdict.Tolerance{Lo: -0.1, Hi: 0.1}
	i.Points = append(i.Points, inspection.Point{Name: "B", At: geom.Vec{X: -900}, Radius: 5, HasTolerance: true, Tolerance: tol})
	o, err = app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.DoesNotConform, o.Compared.Points[0].Verdict)
	require.Equal(t, deviation.OffReference, o.Compared.Points[1].Spot.State)
	require.Equal(t, verdict.Undecided, o.Compared.Points[1].Verdict)
	require.Equal(t, verdict.DoesNotConform, o.Verdict)
}
