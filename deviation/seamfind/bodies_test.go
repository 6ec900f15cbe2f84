package seamfind_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/seamfind"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func find(t *testing.T, m *mesh.Mesh, drawn bool, threads int) []seamfind.Seam {
	t.Helper()
	ctx := context.Background()
	g, err := seamfind.New(ctx, m, threads, nil)
	require.NoError(t, err)
	found, err := g.Find(ctx, seamfind.Settings{Drawn: drawn, Threads: threads}, nil)
	require.NoError(t, err)
	return slices.DeleteFunc(found, func(s seamfind.Seam) bool { return s.Sure < seamfind.LikelyFrom })
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

// offMiddle returns how far beside the middle of the true gap the path runs at a station.
func offMiddle(s bodywork.StationTruth, path []geom.Vec) (aside, away float64) {
	mid := s.Nose[0].Lerp(s.Nose[1], 0.5)
	up := s.Shoulder[0].Lerp(s.Shoulder[1], 0.5).Sub(mid).Unit()
	across := s.Nose[1].Sub(s.Nose[0])
	across = across.AddScaled(-across.Dot(up), up).Unit()
	d := nearest(mid, path).Sub(mid)
	return math.Abs(d.Dot(across)), d.Norm()
}

// The van's formula says where its two shut lines are; nothing else on it is one, be
// it an arch, a hole, a web, the floor or a stand.
func TestTheVansShutLinesAndNothingElse(t *testing.T) {
	ctx := context.Background()
	for _, o := range []bodywork.Options{
		{Size: 40_000, Seed: 1},
		{Size: 60_000, Seed: 2, Noise: 0.1},
	} {
		job, err := bodywork.Van(ctx, o, nil)
		require.NoError(t, err)
		scanned, err := job.ScanStations(ctx, nil)
		require.NoError(t, err)
		for _, c := range []struct {
			what  string
			mesh  *mesh.Mesh
			truth []bodywork.StationTruth
			back  geom.Rigid // to the van's frame
			drawn bool
		}{
			{"the drawing", job.Reference, job.ReferenceStations(), geom.Identity(), true},
			{"the scan as it lies", job.Scan, scanned, job.ReferenceFromScan, false},
		} {
			found := find(t, c.mesh, c.drawn, 0)
			require.Len(t, found, len(job.Seams), c.what)
			var off []float64
			for _, s := range c.truth {
				best := math.Inf(1)
				var aside float64
				for k := range found {
					path := make([]geom.Vec, len(found[k].Path))
					for i, p := range found[k].Path {
						path[i] = c.back.Apply(p)
					}
					if a, d := offMiddle(s, path); d < best {
						best, aside = d, a
					}
				}
				if s.State == "side-missing" { // the edge there was not scanned
					continue
				}
				require.Less(t, best, 6.0, "%s: %s at %.0f mm is on a path found", c.what, s.Seam, s.Along)
				off = append(off, aside)
			}
			slices.Sort(off)
			require.Less(t, off[len(off)*95/100], 0.5, "%s, %d triangles: beside the middle, 95 %%", c.what, o.Size)
			for k, f := range found {
				require.Equal(t, "sure", f.SureWord(), c.what)
				width, ok := f.MeanWidth()
				require.True(t, ok)
				require.InDelta(t, job.Seams[k%2].Gap, width, 0.7, "%s: the wing is up to 1.2 mm too long", c.what)
				require.InDelta(t, 900, f.Length(), 25, "the shut lines run from sill to roof")
			}
		}
	}
}

func TestSideAIsNearerTheFrontOrAbove(t *testing.T) {
	piece := bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: 4, Length: 300, Width: 60, Spacing: 1.5,
	})
	// The piece: along +Y, outside +Z, side A at -X. Each case sets it up on a body (X rearward,
	// Y right, Z up) and says where its side A must lie from its middle.
	for _, c := range []struct {
		name, where string
		to          func(p geom.Vec) geom.Vec // a turn, no reflection
		front       geom.Vec
	}{
		{"on the left side, upright", "left upright at x 1000", func(p geom.Vec) geom.Vec { return geom.Vec{X: 1000 + p.X, Y: -800 - p.Z, Z: 500 + p.Y} }, geom.Vec{X: -1}},
		{"on the left side, upside down", "left upright at x 1000", func(p geom.Vec) geom.Vec { return geom.Vec{X: 1000 - p.X, Y: -800 - p.Z, Z: 500 - p.Y} }, geom.Vec{X: -1}},
		{"on the right side, upright", "right upright at x 1000", func(p geom.Vec) geom.Vec { return geom.Vec{X: 1000 - p.X, Y: 800 + p.Z, Z: 500 + p.Y} }, geom.Vec{X: -1}},
		{"on the left side, along", "left along at z 500", func(p geom.Vec) geom.Vec { return geom.Vec{X: 1000 + p.Y, Y: -800 - p.Z, Z: 500 - p.X} }, geom.Vec{Z: 1}},
		{"on the roof, across", "top across at x 1000", func(p geom.Vec) geom.Vec { return geom.Vec{X: 1000 + p.X, Y: p.Y, Z: 1400 + p.Z} }, geom.Vec{X: -1}},
		{"on the bonnet's right, along", "top along at y 600", func(p geom.Vec) geom.Vec { return geom.Vec{X: 400 - p.Y, Y: 600 + p.X, Z: 900 + p.Z} }, geom.Vec{Y: -1}},
	} {
		m := bodywork.Mapped(piece.Mesh, c.to)
		found := find(t, m, true, 0)
		require.Len(t, found, 1, c.name)
		f := found[0]
		require.Equal(t, c.name[:0]+c.where, f.Name[:len(c.where)], c.name)
		k := len(f.Path) / 2
		a := f.Path[k+1].Sub(f.Path[k]).Cross(f.Outward[k]).Unit() // from A to B
		require.Less(t, a.Dot(c.front), -0.9, "%s: side A lies toward %v", c.name, c.front)
	}
}

// A panel without a shut line has none, whatever is cut into it or rises from it.
func TestNothingIsInvented(t *testing.T) {
	plane := bodywork.Plane(600, 400, 3)
	shaped := func(height func(x, y float64) float64) *mesh.Mesh {
		return bodywork.Mapped(plane, func(p geom.Vec) geom.Vec { return geom.Vec{X: p.X, Y: p.Y, Z: height(p.X, p.Y)} })
	}
	round := func(cx, cy, r float64) func(geom.Vec) bool {
		return func(c geom.Vec) bool { return math.Hypot(c.X-cx, c.Y-cy) < r }
	}
	for name, m := range map[string]*mesh.Mesh{
		"a flat panel":        plane,
		"holes":               bodywork.Without(bodywork.Without(plane, round(150, 200, 9)), round(400, 200, 60)),
		"a concave line":      shaped(func(x, _ float64) float64 { return 0.35 * math.Abs(x-300) }),
		"a convex line":       shaped(func(x, _ float64) float64 { return -0.35 * math.Abs(x-300) }),
		"a step":              shaped(func(x, _ float64) float64 { return 4 * math.Min(1, math.Max(0, (x-300)/3)) }),
		"a rib":               shaped(func(x, _ float64) float64 { return 5 * math.Max(0, 1-math.Abs(x-300)/5) }),
		"a shallow swage":     shaped(func(x, _ float64) float64 { return -0.8 * math.Max(0, 1-math.Abs(x-300)/5) }),
		"a wide channel":      shaped(func(x, _ float64) float64 { return -8 * math.Min(1, math.Max(0, (40-math.Abs(x-300))/6)) }),
		"a dent":              shaped(func(x, y float64) float64 { return -6 * math.Exp(-(math.Pow(x-300, 2)+math.Pow(y-200, 2))/800) }),
		"a folded bracket":    bodywork.Bracket(bodywork.Sampling{Triangles: 40_000}),
		"a noisy ball's part": bodywork.WithNoise(bodywork.SpherePatch(400, 0.5, 2.5), 0.1, 3),
	} {
		require.Empty(t, find(t, m, true, 0), name)
	}
}

// The border of a torn scan is flat, panels' edges fall away: a stripe that was not
// scanned is no shut line.
func TestAStripeNotScannedIsDoubtful(t *testing.T) {
	m := bodywork.WithNoise(bodywork.Without(bodywork.Plane(600, 300, 1.5), func(c geom.Vec) bool { return math.Abs(c.X-300) < 2.5 }), 0.03, 5)
	require.Empty(t, find(t, m, false, 0))
	// In a drawing the same is two panels without hems.
	require.Len(t, find(t, m, true, 0), 1)
}

// A narrow gap comes as a groove in one continuous surface.
func TestAGrooveInOneSurfaceIsFound(t *testing.T) {
	middle := func(y float64) float64 { return 300 + 20*math.Sin(y/150) }
	m := bodywork.WithNoise(bodywork.Mapped(bodywork.Plane(600, 400, 1.2), func(p geom.Vec) geom.Vec {
		d := (p.X - middle(p.Y)) / 3
		return geom.Vec{X: p.X, Y: p.Y, Z: -3.5*math.Exp(-d*d*d*d) - p.X*p.X/8000}
	}), 0.05, 7)
	found := find(t, m, false, 0)
	require.Len(t, found, 1)
	require.InDelta(t, 400, found[0].Length(), 30)
	for i, p := range found[0].Path {
		require.InDelta(t, middle(p.Y), p.X, 0.5, "%d", i)
	}
}

// Round a flap runs one line of four seams, each named on its own.
func TestCornersDivideALineIntoSeams(t *testing.T) {
	box := func(p geom.Vec) float64 { // distance from the flap's outline, 300 by 200 mm with corners of 12 mm
		x, y := math.Abs(p.X-300)-138, math.Abs(p.Y-200)-88
		return math.Hypot(math.Max(x, 0), math.Max(y, 0)) + math.Min(math.Max(x, y), 0) - 12
	}
	m := bodywork.Mapped(bodywork.Plane(600, 400, 1), func(p geom.Vec) geom.Vec {
		d := box(p) / 2.2
		return geom.Vec{X: p.X, Y: p.Y, Z: -5 * math.Exp(-d*d*d*d)}
	})
	found := find(t, m, true, 0)
	require.Len(t, found, 4)
	names := map[string]bool{}
	for _, f := range found {
		names[f.Name] = true
		for _, p := range f.Path {
			require.InDelta(t, 0, box(p), 1.2, f.Name)
		}
	}
	require.Len(t, names, 4)
}

func TestTheSameForAnyNumberOfThreads(t *testing.T) {
	job, err := bodywork.Van(context.Background(), bodywork.Options{Size: 25_000, Seed: 3}, nil)
	require.NoError(t, err)
	require.Equal(t, find(t, job.Scan, false, 1), find(t, job.Scan, false, 3))
}

func TestStopsWhenAsked(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	g, err := seamfind.New(ctx, bodywork.Plane(100, 100, 5), 0, nil)
	require.NoError(t, err)
	cancel()
	_, err = g.Find(ctx, seamfind.Settings{}, nil)
	require.ErrorIs(t, err, context.Canceled)
}

func TestOddMeshesHaveNoSeams(t *testing.T) {
	one := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 100}, {Y: 100}}, Faces: [][3]uint32{{0, 1, 2}}}
	flat := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 100}, {X: 200}}, Faces: [][3]uint32{{0, 1, 2}, {0, 0, 0}}}
	wide := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 1e9}, {Y: 1e9}, {X: 3, Y: 1, Z: -1e9}}, Faces: [][3]uint32{{0, 1, 2}, {1, 0, 3}}}
	for name, m := range map[string]*mesh.Mesh{"one triangle": one, "no area": flat, "as large as a country": wide} {
		require.Empty(t, find(t, m, true, 0), name)
	}
}

// A path typed beside a gap moves into its middle: of hems of different radii, of panels
// at an angle, of steps, over spacings from 0.5 to 3 mm. The truth is the generator's nose to nose.
func TestAPathMovesIntoTheMiddleOfEveryKindOfGap(t *testing.T) {
	hem := func(r float64) bodywork.JointEdge { return bodywork.JointEdge{Radius: r} }
	base := bodywork.JointOptions{Edge: [2]bodywork.JointEdge{hem(1.5), hem(1.5)}, Gap: 4, Length: 200, Width: 40, Spacing: 1.2, Noise: 0.05, Jitter: 0.25, Seed: 1}
	with := func(set func(*bodywork.JointOptions)) bodywork.JointOptions {
		o := base
		set(&o)
		return o
	}
	for name, o := range map[string]bodywork.JointOptions{
		"usual":             base,
		"narrow":            with(func(o *bodywork.JointOptions) { o.Gap = 1.5 }),
		"wide":              with(func(o *bodywork.JointOptions) { o.Gap = 9 }),
		"fine":              with(func(o *bodywork.JointOptions) { o.Spacing = 0.5 }),
		"coarse":            with(func(o *bodywork.JointOptions) { o.Spacing = 3 }),
		"noisy":             with(func(o *bodywork.JointOptions) { o.Noise = 0.1 }),
		"a step":            with(func(o *bodywork.JointOptions) { o.Flush = 2 }),
		"at 20 degrees":     with(func(o *bodywork.JointOptions) { o.Angle = 20 * math.Pi / 180 }),
		"hems of 1 and 3":   with(func(o *bodywork.JointOptions) { o.Edge = [2]bodywork.JointEdge{hem(1), hem(3)} }),
		"sharp and a hem":   with(func(o *bodywork.JointOptions) { o.Edge[0] = bodywork.JointEdge{Form: bodywork.SharpCorner, Wall: 5} }),
		"bent faces":        with(func(o *bodywork.JointOptions) { o.Curvature = [2]float64{1. / 700, 1. / 700} }),
		"seen to 45 and 90": with(func(o *bodywork.JointOptions) { o.Edge[0].Seen, o.Edge[1].Seen = math.Pi/4, math.Pi/2 }),
	} {
		j := bodywork.NewJoint(o)
		g, err := seamfind.New(context.Background(), j.Mesh, 0, nil)
		require.NoError(t, err)
		path := []geom.Vec{{X: 1.5, Y: 5}, {X: -1.5, Y: o.Length - 5}}
		up := []geom.Vec{{Z: 1}, {Z: 1}}
		c, err := g.Centre(context.Background(), path, up, 0)
		require.NoError(t, err)
		require.Greater(t, c.SeenShare(), 0.8, name)
		middle := (j.Nose[0].S + j.Nose[1].S) / 2
		for _, p := range c.Path {
			require.InDelta(t, middle, p.X, 0.5, "%s at %.0f mm", name, p.Y)
		}
		width, _ := c.MeanWidth()
		require.InDelta(t, j.Nose[1].S-j.Nose[0].S, width, 0.6, name)
	}
}
