package align

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// slid lets a scan that lies at its true place slide by up to 12 mm each way that the surface leaves free, and come to rest there.
func slid(t *testing.T, f *fit, seed uint64) Placement {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 4))
	p, err := f.finish(context.Background(), geom.Identity(), nil)
	require.NoError(t, err)
	start := geom.Identity()
	for _, m := range p.FreeMotions {
		x := vec6{m.Shift.X, m.Shift.Y, m.Shift.Z, m.Turn.X * p.Lever, m.Turn.Y * p.Lever, m.Turn.Z * p.Lever}
		size := 24 * (rng.Float64() - 0.5) / math.Sqrt(dot6(&x, &x))
		for i := range x {
			x[i] *= size
		}
		start = moveBy(start, x, p.Centre, p.Lever)
	}
	p, err = f.finish(context.Background(), start, nil)
	require.NoError(t, err)
	return p
}

// byBorders returns the placement as the borders hold it, nil where they do not.
func byBorders(t *testing.T, f *fit, p *Placement) (*Placement, error) {
	t.Helper()
	set, err := f.borderSet(context.Background())
	require.NoError(t, err)
	require.NotNil(t, set)
	return f.heldBy(context.Background(), set, p, false, nil)
}

// requireInside fails unless the truth, that the scan was not moved, lies within three standard uncertainties of every held direction.
func requireInside(t *testing.T, p *Placement) {
	t.Helper()
	along := p.Along(p.ReferenceFromScan)
	for k, d := range p.Directions {
		if !d.Free {
			require.Less(t, math.Abs(along[k]), 3*d.Sigma, "direction %d", k)
		}
	}
}

// A smooth side cut so that the skin lets it slide is held where the cut left borders of the part, and only there. The
// truth is where the generator put it, and which edges were cut.
func TestBordersOfThePartHoldWhatTheSkinDoesNot(t *testing.T) {
	s := surfaceOf(t, bodywork.SmoothSide(bodywork.Sampling{Triangles: 100000}))
	for name, c := range map[string]struct {
		drop func(p geom.Vec) bool
		held bool
	}{
		"front, with arch and three ends":      {func(p geom.Vec) bool { return p.X > 800 }, true},
		"rear, with three ends":                {func(p geom.Vec) bool { return p.X < 1800 }, true},
		"cut all round":                        {func(p geom.Vec) bool { return math.Hypot(p.X-1900, p.Z-400) > 350 }, false},
		"one straight end":                     {func(p geom.Vec) bool { return math.Hypot(p.X-1900, p.Z-100) > 400 }, false},
		"a corner":                             {func(p geom.Vec) bool { return math.Hypot(p.X-2300, p.Z-100) > 400 }, false},
		"cut 10 mm inside three ends":          {func(p geom.Vec) bool { return p.X < 1800 || p.X > 2390 || p.Z < 10 || p.Z > 890 }, false},
		"cut 10 mm inside one of two ends":     {func(p geom.Vec) bool { return p.X < 1800 || p.X > 2300 || p.Z < 10 }, false},
		"cut parallel to an end, 20 mm inside": {func(p geom.Vec) bool { return p.X < 1800 || p.X > 2380 || p.Z < 300 || p.Z > 700 }, false},
	} {
		t.Run(name, func(t *testing.T) {
			scan := bodywork.Without(bodywork.SmoothSide(bodywork.Sampling{Triangles: 120000, Jitter: true, Seed: 6}), c.drop)
			f, err := newFit(context.Background(), noisy(scan, 0.03, 5), s, Settings{})
			require.NoError(t, err)
			p := slid(t, f, uint64(len(name)))
			require.Positive(t, p.directionsFree, "the skin alone leaves it free")
			held, err := byBorders(t, f, &p)
			require.NoError(t, err)
			if !c.held {
				require.Nil(t, held)
				return
			}
			require.NotNil(t, held)
			require.Zero(t, held.directionsFree)
			require.NotEmpty(t, held.Borders)
			requireInside(t, held)
			require.Less(t, placementError(held.ReferenceFromScan, geom.Identity(), s.Mesh), 1.0)
		})
	}
}

// An end that was cut short by a few millimetres looks like the part's own: what is said of the slide covers the error.
func TestAnEndCutShortByLittleIsCovered(t *testing.T) {
	s := surfaceOf(t, bodywork.SmoothSide(bodywork.Sampling{Triangles: 100000}))
	for _, short := range []float64{2, 4, 6} {
		scan := bodywork.Without(bodywork.SmoothSide(bodywork.Sampling{Triangles: 120000, Jitter: true, Seed: 6}),
			func(p geom.Vec) bool { return p.X < 1800 || p.X > 2400-short })
		f, err := newFit(context.Background(), noisy(scan, 0.03, 5), s, Settings{})
		require.NoError(t, err)
		p := slid(t, f, 2)
		held, err := byBorders(t, f, &p)
		require.NoError(t, err)
		if held != nil {
			t.Log(short, held.ReferenceFromScan.T.X)
			requireInside(t, held)
		}
	}
}

// A hole in a flat sheet holds both slides and leaves the turn about its middle.
func TestAHoleHoldsBothSlides(t *testing.T) {
	hole := func(at geom.Vec, r float64) func(geom.Vec) bool {
		return func(p geom.Vec) bool { return math.Hypot(p.X-at.X, p.Y-at.Y) < r }
	}
	at := geom.Vec{X: 300, Y: 200}
	s := surfaceOf(t, bodywork.Without(bodywork.Plane(600, 400, 2.5), hole(at, 60)))
	scan := bodywork.Without(bodywork.Plane(600, 400, 2.1), func(p geom.Vec) bool {
		return hole(at, 60)(p) || math.Abs(p.X-310) > 130 || math.Abs(p.Y-190) > 110
	})
	f, err := newFit(context.Background(), noisy(scan, 0.03, 5), s, Settings{})
	require.NoError(t, err)
	p := slid(t, f, 1)
	require.Equal(t, 3, p.directionsFree)
	held, err := byBorders(t, f, &p)
	require.NoError(t, err)
	require.NotNil(t, held)
	require.Equal(t, 1, held.directionsFree)
	require.True(t, held.Free[5], "the turn about the normal")
	centre := held.ReferenceFromScan.Apply(at)
	require.Less(t, math.Hypot(centre.X-at.X, centre.Y-at.Y), 0.5, "mm, a fifth of the facets")

	whole := mesh.Mesh{Vertices: scan.Vertices, Faces: scan.Faces}
	other := surfaceOf(t, bodywork.Without(bodywork.Plane(600, 400, 2.5), hole(at, 70)))
	f, err = newFit(context.Background(), noisy(&whole, 0.03, 5), other, Settings{})
	require.NoError(t, err)
	p = slid(t, f, 1)
	held, err = byBorders(t, f, &p)
	require.NoError(t, err)
	require.Nil(t, held, "a hole of another size is not the part's")
}

// What the surface itself has of lines, hems and cups holds it: each takes motions from those that a flat sheet leaves free.
func TestLinesHemsAndCupsHold(t *testing.T) {
	line := func(p geom.Vec) geom.Vec { // along X
		p.Z += 3 * math.Tanh((p.Y-150)/8)
		return p
	}
	hem := func(p geom.Vec) geom.Vec { // along Y, of 2 mm radius, turned down at the end
		const r, end = 2.0, 580.0
		if a := (p.X - end) / r; a > 0 {
			sin, cos := geom.Sincos(min(a, math.Pi/2))
			down := max(a-math.Pi/2, 0) * r
			p.X, p.Z = end+r*sin, p.Z-r*(1-cos)-down
		}
		return p
	}
	cup := func(p geom.Vec) geom.Vec {
		p.Z -= 10 * math.Exp(-(float64((p.X-200)*(p.X-200))+float64((p.Y-280)*(p.Y-280)))/900)
		return p
	}
	both := func(a, b func(geom.Vec) geom.Vec) func(geom.Vec) geom.Vec {
		return func(p geom.Vec) geom.Vec { return a(b(p)) }
	}
	for name, c := range map[string]struct {
		shape func(geom.Vec) geom.Vec
		free  [6]bool
	}{
		"flat":         {func(p geom.Vec) geom.Vec { return p }, [6]bool{true, true, false, false, false, true}},
		"line":         {line, [6]bool{true, false, false, false, false, false}},
		"hem":          {hem, [6]bool{false, true, false, false, false, false}},
		"line and hem": {both(line, hem), [6]bool{}},
		"cup":          {cup, [6]bool{true, true, false, false, false, true}}, // turns about its middle
		"line and cup": {both(line, cup), [6]bool{}},
	} {
		ref := bodywork.Mapped(bodywork.Plane(590, 400, 2), c.shape)
		scan := bodywork.Mapped(bodywork.Plane(590, 400, 1.7), c.shape)
		p, err := Describe(context.Background(), "given", geom.Identity(), noisy(scan, 0.03, 2), surfaceOf(t, ref), Settings{})
		require.NoError(t, err)
		require.Equal(t, c.free, p.Free, "%s: %q", name, p.Notes)
	}
}
