package seampath_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/seampath"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// van is the generator's van as scanned, in the reference's frame, with its formula's truth.
type van struct {
	job    *bodywork.Job
	placed *mesh.Mesh
	ground *seampath.Ground
	truth  map[string][]bodywork.StationTruth
}

func newVan(t *testing.T, size int) van {
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: size, Seed: 1}, nil)
	require.NoError(t, err)
	stations, err := job.ScanStations(ctx, nil)
	require.NoError(t, err)
	v := van{job: job, placed: job.Scan.Moved(job.ReferenceFromScan), truth: map[string][]bodywork.StationTruth{}}
	for _, s := range stations {
		v.truth[s.Seam] = append(v.truth[s.Seam], s)
	}
	v.ground, err = seampath.New(ctx, v.placed, 0, nil)
	require.NoError(t, err)
	return v
}

// middle returns the middle of the true gap at a station, as the formula has it.
func middle(s bodywork.StationTruth) geom.Vec { return s.Nose[0].Lerp(s.Nose[1], 0.5) }

func distance(p geom.Vec, path []geom.Vec) float64 {
	best := math.Inf(1)
	for i := 1; i < len(path); i++ {
		d := path[i].Sub(path[i-1])
		s := min(1, max(0, p.Sub(path[i-1]).Dot(d)/d.Norm2()))
		best = min(best, p.Dist(path[i-1].Lerp(path[i], s)))
	}
	return best
}

// left is the direction to a viewer who stands on the van's left side.
var left = geom.Vec{Y: -1}

func TestTwoClicksFollowABowedShutLine(t *testing.T) {
	for _, size := range []int{100_000, 300_000} {
		v := newVan(t, size)
		for _, spec := range v.job.Seams {
			truth := v.truth[spec.Name]
			a, b := middle(truth[0]), middle(truth[len(truth)-1])
			// Clicks as a hand makes them on a whole part: some mm beside the gap.
			const beside = 6
			clicks := []seampath.Click{{At: a.AddScaled(beside, geom.Vec{X: 1}), Outward: left, Slack: 3}, {At: b.AddScaled(-beside, geom.Vec{X: 1}), Outward: left, Slack: 3}}
			bow := 0.0
			for _, s := range truth {
				bow = max(bow, distance(middle(s), []geom.Vec{a, b}))
			}
			require.Greater(t, bow, 8.0, "the line between the clicks leaves the gap")
			path, err := v.ground.Lay(context.Background(), clicks)
			require.NoError(t, err)
			points := seampath.Rounded(seampath.Simplified(path.Points, 0.1))
			require.Less(t, len(points), len(path.Points)/2)
			require.Greater(t, path.Found, 0.8, spec.Name)
			// Across the gap the path lies in its middle, well inside the half gap of 1.4 to 2 mm.
			for _, s := range truth[1 : len(truth)-1] {
				across := s.Nose[1].Sub(s.Nose[0]).Unit()
				foot := nearest(middle(s), points)
				off := foot.Sub(middle(s))
				require.InDelta(t, 0, off.Dot(across), 0.8, "%s, %d triangles, at %.0f mm (%s)", spec.Name, size, s.Along, s.State)
				require.InDelta(t, 0, off.Norm(), 4, "the path stays on the outer skin: the noses lie under it by their radius")
			}

			// What was clicked can be measured like what was drawn.
			drawn, clicked := v.measured(t, spec.Name, spec.Path), v.measured(t, spec.Name, points)
			require.InDelta(t, drawn, clicked, 2, "%s: stations with a gap", spec.Name)
		}
	}
}

func (v van) measured(t *testing.T, name string, path []geom.Vec) int {
	seam := gapflush.DefaultSeam(name, path)
	seam.Radius = [2]float64{1.5, 1.5}
	r, err := gapflush.Measure(context.Background(), v.placed, nil, seam, gapflush.Settings{}, nil)
	require.NoError(t, err)
	return r.Measured
}

func nearest(p geom.Vec, path []geom.Vec) geom.Vec {
	best, at := math.Inf(1), geom.Vec{}
	for i := 1; i < len(path); i++ {
		d := path[i].Sub(path[i-1])
		q := path[i-1].Lerp(path[i], min(1, max(0, p.Sub(path[i-1]).Dot(d)/d.Norm2())))
		if p.Dist(q) < best {
			best, at = p.Dist(q), q
		}
	}
	return at
}

func TestAClickOnTheGapMeansTheSkinsBesideIt(t *testing.T) {
	v := newVan(t, 100_000)
	s, err := surface.New(context.Background(), v.placed, 0, nil)
	require.NoError(t, err)
	finder := s.NewFinder()
	cast := func(p geom.Vec) (float64, bool) {
		d, _, ok := finder.Ray(p.AddScaled(300, left), left.Neg())
		return 300 - d, ok && d < 600
	}
	for _, spec := range v.job.Seams {
		for _, st := range v.truth[spec.Name] {
			m := middle(st)
			if st.State == string(gapflush.SideMissing) {
				continue
			}
			for _, beside := range []float64{-9, -6, -3, 0, 3, 6, 9} {
				at, normal, ok := seampath.Skin(m.Add(geom.Vec{X: beside}).AddScaled(150, left), left, cast)
				require.True(t, ok, "%s at %.0f, %g mm beside (%s)", spec.Name, st.Along, beside, st.State)
				require.Greater(t, normal.Dot(left), 0.8)
				shoulders := st.Shoulder[0].Lerp(st.Shoulder[1], 0.5)
				require.InDelta(t, shoulders.Dot(left), at.Dot(left), 2, "%s at %.0f, %g mm beside: on the skin, not on what lies behind", spec.Name, st.Along, beside)
			}
		}
	}
}

func TestWithoutAGapThePathIsStraightOnTheSkin(t *testing.T) {
	// A sphere patch about the origin's z axis: the straight line laid on it is a great circle's arc in a plane.
	const radius = 500.0
	m := bodywork.SpherePatch(radius, 0.3, 3)
	ground, err := seampath.New(context.Background(), m, 0, nil)
	require.NoError(t, err)
	box := m.Bounds()
	top := geom.Vec{X: box.Center().X, Y: box.Center().Y, Z: box.Hi.Z}
	centre := top.AddScaled(-radius, geom.Vec{Z: 1})
	on := func(x, y float64) seampath.Click {
		d := geom.Vec{X: x, Y: y, Z: math.Sqrt(radius*radius - x*x - y*y)}
		return seampath.Click{At: centre.Add(d), Outward: d.Unit()}
	}
	path, err := ground.Lay(context.Background(), []seampath.Click{on(-100, 10), on(100, 10)})
	require.NoError(t, err)
	require.Zero(t, path.Found)
	for _, p := range path.Points {
		require.InDelta(t, radius, p.Dist(centre), 0.1)
		require.InDelta(t, 10, p.Sub(centre).Y*radius/math.Sqrt(radius*radius), 0.3)
	}
	require.InDelta(t, 0, path.Points[0].Dist(on(-100, 10).At), 0.1)
	require.InDelta(t, 0, path.Points[len(path.Points)-1].Dist(on(100, 10).At), 0.1)
}

func TestFewerThanTwoDifferentClicksMakeNoPath(t *testing.T) {
	ground, err := seampath.New(context.Background(), bodywork.Plane(100, 100, 5), 0, nil)
	require.NoError(t, err)
	one := seampath.Click{At: geom.Vec{X: 10, Y: 10}, Outward: geom.Vec{Z: 1}}
	for _, clicks := range [][]seampath.Click{nil, {one}, {one, one}} {
		path, err := ground.Lay(context.Background(), clicks)
		require.NoError(t, err)
		require.Empty(t, path.Points)
	}
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	two := one
	two.At.X = 60
	_, err = ground.Lay(stopped, []seampath.Click{one, two})
	require.ErrorIs(t, err, context.Canceled)
}

func TestSimplifiedKeepsTheCourse(t *testing.T) {
	var path []geom.Vec
	for i := range 100 {
		s := float64(i) * 8
		path = append(path, geom.Vec{X: s, Y: s * s / 8000, Z: 20 * math.Sin(s/300)})
	}
	short := seampath.Simplified(path, 0.1)
	require.Less(t, len(short), 30)
	require.Equal(t, path[0], short[0])
	require.Equal(t, path[99], short[len(short)-1])
	for _, p := range path {
		require.LessOrEqual(t, distance(p, short), 0.1+1e-9)
	}
	require.Equal(t, []geom.Vec{{X: 1.23, Y: -4.57, Z: 0}}, seampath.Rounded([]geom.Vec{{X: 1.2345, Y: -4.5678, Z: -0.001}}))
}
