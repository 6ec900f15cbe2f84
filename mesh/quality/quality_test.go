package quality_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/quality"
)

func noisy(m *mesh.Mesh, sigma float64, seed uint64) *mesh.Mesh {
	r := rand.New(rand.NewPCG(seed, 1))
	n := m.VertexNormals()
	out := &mesh.Mesh{Faces: m.Faces, Vertices: make([]geom.Vec, len(m.Vertices))}
	for i, v := range m.Vertices {
		out.Vertices[i] = v.AddScaled(sigma*r.NormFloat64(), n[i])
	}
	return out
}

// Noise put on surfaces by formula comes out again, to within 10 %, whatever their curvature.
func TestNoiseComesOutAgain(t *testing.T) {
	for _, m := range []*mesh.Mesh{bodywork.Plane(120, 120, 1.5), bodywork.SpherePatch(300, 0.3, 1.5), bodywork.CylinderPatch(150, 0.6, 200, 1.5)} {
		for _, sigma := range []float64{0.03, 0.1} {
			scan := noisy(m, sigma, 3)
			got, ok, _ := quality.Noise(context.Background(), scan, scan.VertexNormals())
			require.True(t, ok)
			require.InEpsilon(t, sigma, got, 0.1)
		}
	}
	// Without noise next to nothing is left on a sphere: the curvature is even.
	m := bodywork.SpherePatch(300, 0.3, 1.5)
	got, ok, _ := quality.Noise(context.Background(), m, m.VertexNormals())
	require.True(t, ok)
	require.Less(t, got, 0.0005)
}

func TestTooFewPointsGiveNoNoise(t *testing.T) {
	m := bodywork.Plane(4, 4, 1)
	_, ok, _ := quality.Noise(context.Background(), m, m.VertexNormals())
	require.False(t, ok)
}

func joined(a, b *mesh.Mesh) *mesh.Mesh {
	n := uint32(len(a.Vertices))
	out := &mesh.Mesh{Vertices: append(append([]geom.Vec(nil), a.Vertices...), b.Vertices...), Faces: append([][3]uint32(nil), a.Faces...)}
	for _, f := range b.Faces {
		out.Faces = append(out.Faces, [3]uint32{f[0] + n, f[1] + n, f[2] + n})
	}
	return out
}

func doubled(t *testing.T, m *mesh.Mesh) quality.Skins {
	tree, err := bvh.Build(context.Background(), m, 0, nil)
	require.NoError(t, err)
	normals := m.VertexNormals()
	noise, _, _ := quality.Noise(context.Background(), m, normals)
	s, err := quality.Doubled(context.Background(), m, normals, 1, noise, tree, 0, nil)
	require.NoError(t, err)
	return s
}

// A second pass that lies 0.8 mm above a quarter of the first is found, with its share, its
// distance and a place in it; noise of the passes does not hide it.
func TestDoubledSkinIsFound(t *testing.T) {
	first := noisy(bodywork.Plane(400, 200, 2), 0.03, 1)
	again := noisy(bodywork.Plane(100, 200, 2), 0.03, 2).Moved(geom.Rigid{R: geom.Identity().R, T: geom.Vec{X: 0.7, Y: 0.9, Z: 0.8}})
	s := doubled(t, joined(first, again))
	require.InDelta(t, 0.8, s.Gap, 0.05)
	// 20 000 mm² of the first and as much of the second, of 100 000 in all.
	require.InDelta(t, 0.4, s.Share, 0.03)
	require.Less(t, s.At.X, 103.0)
}

func TestWhatIsNoDoubledSkin(t *testing.T) {
	// Two passes that match to 0.01 mm, far less than their noise.
	again := noisy(bodywork.Plane(200, 200, 2), 0.03, 5).Moved(geom.Rigid{R: geom.Identity().R, T: geom.Vec{X: 0.7, Y: 0.9, Z: 0.01}})
	require.Less(t, doubled(t, joined(noisy(bodywork.Plane(200, 200, 2), 0.03, 4), again)).Share, 0.01)
	plain := noisy(bodywork.SpherePatch(300, 0.4, 2), 0.05, 1)
	require.Zero(t, doubled(t, plain).Share)
	// A thin sheet: its inside faces the other way.
	out := bodywork.Plane(200, 200, 2)
	in := out.Moved(geom.Rigid{R: geom.Identity().R, T: geom.Vec{Z: -0.8}})
	turned := &mesh.Mesh{Vertices: in.Vertices, Faces: make([][3]uint32, len(in.Faces))}
	for i, f := range in.Faces {
		turned.Faces[i] = [3]uint32{f[0], f[2], f[1]}
	}
	require.Zero(t, doubled(t, joined(out, turned)).Share)
	// A panel 40 mm behind another.
	behind := out.Moved(geom.Rigid{R: geom.Identity().R, T: geom.Vec{Z: -40}})
	require.Zero(t, doubled(t, joined(out, behind)).Share)
}

// The made-up van's scan has noise of 0.03 mm and no doubled skin worth the name.
func TestVan(t *testing.T) {
	job, err := bodywork.Van(context.Background(), bodywork.Options{Size: 100000, Seed: 4}, nil)
	require.NoError(t, err)
	sigma, ok, _ := quality.Noise(context.Background(), job.Scan, job.Scan.VertexNormals())
	require.True(t, ok)
	require.False(t, math.Abs(sigma-0.03) > 0.01, "noise %v", sigma)
	require.Less(t, doubled(t, job.Scan).Share, 0.01)
}

// 1 km from zero single precision has steps of 0.0625 mm (2^-4: IEEE 754, 24 bits of 1e6), which is said; near
// zero, and in double precision, nothing is.
func TestLostDigitsAreSaid(t *testing.T) {
	ctx, mm := context.Background(), []meshio.Unit{meshio.Millimetre}
	near := noisy(bodywork.Plane(200, 200, 2), 0.03, 5)
	far := near.Moved(geom.Rigid{R: geom.Identity().R, T: geom.Vec{X: 1e6}})
	e, err := quality.Examine(ctx, far, nil, mm, 0, nil)
	require.NoError(t, err)
	require.Zero(t, e.Step)
	for _, m := range []*mesh.Mesh{near, far} {
		for i, v := range m.Vertices {
			m.Vertices[i] = geom.Vec{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
		}
	}
	e, err = quality.Examine(ctx, near, nil, mm, 0, nil)
	require.NoError(t, err)
	require.Empty(t, e.Faults())
	e, err = quality.Examine(ctx, far, nil, mm, 0, nil)
	require.NoError(t, err)
	require.Equal(t, 0.0625, e.Step)
	require.Contains(t, e.Faults()[len(e.Faults())-1], "steps of 0.062")
}
