package closure_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/closure"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
)

func find(t *testing.T, m *mesh.Mesh, o closure.Options) *closure.Result {
	t.Helper()
	r, err := closure.Find(context.Background(), m, nil, o, nil)
	require.NoError(t, err)
	return r
}

// front is a scan of a window on the van's front, where its end lies over its start, moved there by a known motion.
func front(t *testing.T, seed uint64, spacing float64, startFromEnd geom.Rigid) *mesh.Mesh {
	t.Helper()
	s, err := scanpath.New(context.Background(), scanpath.Options{
		Seed: seed, Still: true, Spacing: spacing, Noise: 0.03, SharedNoise: 0.02,
		Window: scanpath.Window{FromU: scanpath.Round - 280, ToU: 280, FromV: 350, ToV: 750},
	}, nil)
	require.NoError(t, err)
	p := &s.Pieces[0]
	endFromStart := startFromEnd.Inverse()
	for i := range p.Mesh.Vertices {
		if p.Places[i].U > scanpath.Round/2 {
			v := endFromStart.Apply(p.Mesh.Vertices[i])
			p.Mesh.Vertices[i] = geom.Vec{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
		}
	}
	return p.Mesh
}

// about returns a shift of the point and a turn about it.
func about(p, shift, turn geom.Vec) geom.Rigid {
	g := geom.RotationVector(turn)
	g.T = p.Add(shift).Sub(g.ApplyDir(p))
	return g
}

// The truth is the motion the end was moved by.
func TestStepsAreFoundAndMeasured(t *testing.T) {
	for seed, shift := range []geom.Vec{{X: 0.2}, {X: -0.3, Y: 0.2, Z: 0.4}, {X: 0.5, Y: 1.2, Z: -1.5}} {
		size := shift.Norm()
		want := about(geom.Vec{X: 5, Z: 850}, shift, geom.Vec{X: 2e-4, Y: -3e-4, Z: 4e-4}.Scale(size))
		r := find(t, front(t, uint64(seed), 1.5, want), closure.Options{Travelled: 50_000})
		require.Len(t, r.Closures, 1)
		c := &r.Closures[0]
		require.InDelta(t, 400*380, c.Area, 20_000) // the strokes' overlap of 400 mm, cut by what the motion leaves over
		there := c.Centre.Sub(want.Inverse().Apply(c.Centre))
		require.True(t, c.Displacement.OK)
		t.Logf("%.3f mm: %.3f ± %.3f, step %.3f ± %.3f, turn off by %.1e of %.1e", there.Norm(), c.Displacement.V, c.Displacement.U, c.Step.V, c.Step.U, c.Turn.Dist(geom.Vec{X: 2e-4, Y: -3e-4, Z: 4e-4}.Scale(size)), c.Turned.V)
		if len(c.Free) == 0 {
			require.InDelta(t, there.Norm(), c.Displacement.V, 0.05)
			require.Less(t, c.Shift.Dist(there), 0.15)
		}
		require.InDelta(t, c.Displacement.V/50, c.PerMetre, 1e-12)
		require.True(t, c.Rigid)
		measured := 0
		for _, p := range c.Patches {
			if p.Step.OK {
				measured++
				// A point of the end lies there: its start is carried back by the inverse.
				step := want.Inverse().Apply(p.At).Sub(p.At).Dot(p.N)
				require.InDelta(t, step, p.Step.V, 0.03)
			}
		}
		require.Greater(t, measured, 40)
	}
}

func TestNothingIsInvented(t *testing.T) {
	van, err := bodywork.Van(context.Background(), bodywork.Options{Size: 100_000}, nil)
	require.NoError(t, err)
	pieces, err := scanpath.New(context.Background(), scanpath.Options{Triangles: 200_000, Pieces: 6, Drift: scanpath.PoorScanner()}, nil)
	require.NoError(t, err)
	for name, m := range map[string]*mesh.Mesh{
		"a scan with flange, inner skin, webs and floor": van.Scan,
		"a drawing":      van.Reference,
		"hems and seam":  bodywork.NewJoint(bodywork.JointOptions{Length: 200, Width: 60, Spacing: 1, Gap: 4, Edge: [2]bodywork.JointEdge{{Form: bodywork.Round, Radius: 1.5, Return: 12}, {Form: bodywork.Round, Radius: 1.5, Return: 12}}}).Mesh,
		"a piece":        pieces.Pieces[1].Mesh,
		"a smooth panel": bodywork.SmoothSide(bodywork.Sampling{Triangles: 50_000}),
	} {
		t.Run(name, func(t *testing.T) { require.Empty(t, find(t, m, closure.Options{}).Closures) })
	}
}

// grid is a rectangle of a surface at(u, v).
func grid(nu, nv int, at func(u, v float64) geom.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := 0; i <= nu; i++ {
		for j := 0; j <= nv; j++ {
			m.Vertices = append(m.Vertices, at(float64(i)/float64(nu), float64(j)/float64(nv)))
		}
	}
	n := uint32(nv + 1)
	for i := range uint32(nu) {
		for j := range uint32(nv) {
			a := i*n + j
			m.Faces = append(m.Faces, [3]uint32{a, a + n, a + n + 1}, [3]uint32{a, a + n + 1, a + 1})
		}
	}
	return m
}

func plate(z, x0, lx, ly float64, n int) *mesh.Mesh {
	return grid(n, n, func(u, v float64) geom.Vec {
		return geom.Vec{X: x0 + lx*u + 3*v, Y: ly * v, Z: z}
	})
}

// Planes hold three motions against each other, cylinders four (any textbook of mechanisms).
func TestWhatIsNotHeldIsNamed(t *testing.T) {
	r := find(t, bodywork.Together(plate(0, 0, 400, 300, 200), plate(0.7, 100, 400, 300, 190)), closure.Options{})
	require.Len(t, r.Closures, 1)
	c := &r.Closures[0]
	require.InDelta(t, 0.7, c.Step.V, 1e-6)
	require.InDelta(t, 0.7, c.Displacement.V, 1e-3)
	require.Less(t, c.Shift.Dist(geom.Vec{Z: -0.7}), 1e-3)
	require.Len(t, c.Free, 3)

	pipe := func(radius, x0 float64, n int) *mesh.Mesh {
		return grid(n, n, func(u, v float64) geom.Vec {
			s, cos := geom.Sincos(1.2 * (u - 0.5))
			return geom.Vec{X: x0 + 300*v, Y: -radius * s, Z: radius * cos}
		})
	}
	r = find(t, bodywork.Together(pipe(300, 0, 200), pipe(300.5, 40, 190)), closure.Options{})
	require.Len(t, r.Closures, 1)
	c = &r.Closures[0]
	require.InDelta(t, 0.5, c.Step.V, 0.01)
	words := []string{}
	for _, f := range c.Free {
		words = append(words, f.Words)
	}
	require.Contains(t, words, "slide along X")
	require.True(t, c.Turned.OK)

	// A ball in its socket turns every way: what is left of a turn is no turn.
	cap := func(x float64, n int) *mesh.Mesh {
		return grid(n, n, func(u, v float64) geom.Vec {
			p := geom.Vec{X: 0.9 * (v - 0.5), Y: 0.9 * (0.5 - u), Z: 1}.Unit().Scale(400)
			return p.Add(geom.Vec{X: x, Z: 0.5 * x})
		})
	}
	r = find(t, bodywork.Together(cap(0, 200), cap(1, 190)), closure.Options{})
	require.Len(t, r.Closures, 1)
	c = &r.Closures[0]
	require.True(t, c.Displacement.OK)
	require.Len(t, c.Free, 3)
	require.False(t, c.Turned.OK)
}

func TestRealPartsAreNotClosures(t *testing.T) {
	back := func(m *mesh.Mesh) *mesh.Mesh {
		out := &mesh.Mesh{Vertices: m.Vertices}
		for _, f := range m.Faces {
			out.Faces = append(out.Faces, [3]uint32{f[0], f[2], f[1]})
		}
		return out
	}
	for name, m := range map[string]*mesh.Mesh{
		"both sides of a sheet":        bodywork.Together(plate(0, 0, 300, 300, 150), back(plate(-0.8, 0, 300, 300, 150))),
		"a sheet before another":       bodywork.Together(plate(0, 0, 300, 300, 150), back(plate(-0.8, 0, 300, 300, 150)), plate(-12, 0, 300, 300, 150)),
		"a flange that shows in a gap": bodywork.Together(plate(0, 0, 200, 300, 100), plate(-6, 190, 30, 300, 100)),
		"a floating bit":               bodywork.Together(plate(0, 0, 300, 300, 150), plate(2, 100, 30, 30, 40)),
		"far apart":                    bodywork.Together(plate(0, 0, 300, 300, 150), plate(60, 0, 300, 300, 150)),
	} {
		t.Run(name, func(t *testing.T) { require.Empty(t, find(t, m, closure.Options{}).Closures) })
	}
}

func TestAPathShorterThanThePart(t *testing.T) {
	_, err := closure.Find(context.Background(), plate(0, 0, 4200, 1700, 10), nil, closure.Options{Travelled: 3000}, nil)
	var short *closure.PathTooShort
	require.ErrorAs(t, err, &short)
	require.Contains(t, err.Error(), "3 m long")
	require.Contains(t, err.Error(), "4.203 m long")
	require.NoError(t, closure.CheckTravelled(plate(0, 0, 4200, 1700, 10), 0))
	require.Empty(t, find(t, &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 1}}}, closure.Options{}).Closures)
}

func TestSameForAnyThreads(t *testing.T) {
	m := front(t, 3, 3, about(geom.Vec{Z: 850}, geom.Vec{X: 0.6, Y: 0.3}, geom.Vec{}))
	a, b := find(t, m, closure.Options{Threads: 1}), find(t, m, closure.Options{Threads: 4})
	require.Equal(t, a, b)
	require.Len(t, a.Closures, 1)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := closure.Find(ctx, m, nil, closure.Options{}, nil)
	require.ErrorIs(t, err, context.Canceled)
}

// A scan that closes within its noise must say so: its displacement is no more than its U.
func TestNoStepIsNoStep(t *testing.T) {
	r := find(t, front(t, 11, 1.5, geom.Identity()), closure.Options{})
	require.Len(t, r.Closures, 1)
	c := r.Greatest()
	require.InDelta(t, 0, c.Step.V, 0.02)
	require.Less(t, c.Displacement.V, c.Displacement.U+0.02)
	require.False(t, math.IsNaN(c.Displacement.V))
}
