package align

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// twoSided is a body with both sides, one of them damaged, with noise, lying
// anywhere. plane is the truth: that in which the second side was made.
func twoSided(seed uint64) (body *mesh.Mesh, plane MirrorPlane) {
	side := bodywork.SmoothSide(bodywork.Sampling{Triangles: 30_000, Jitter: true, Seed: seed})
	plane = MirrorPlane{geom.Vec{Y: -750}, geom.Vec{Y: 1}}
	other := plane.Mirrored(bodywork.SmoothSide(bodywork.Sampling{Triangles: 30_000, Jitter: true, Seed: seed + 100}))
	other = bodywork.Mapped(other, func(p geom.Vec) geom.Vec {
		u, v := (p.X-1700)/200, (p.Z-450)/200
		if q := 1 - float64(u*u) - float64(v*v); q > 0 {
			p.Y += 12 * q * q
		}
		return p
	})
	g := geom.Rotation(geom.Vec{X: 1, Y: 2, Z: -1}, 0.8)
	g.T = geom.Vec{X: 120, Y: -340, Z: 560}
	body = bodywork.WithNoise(bodywork.Together(side, other), 0.03, seed).Moved(g)
	return body, MirrorPlane{g.Apply(plane.Point), g.ApplyDir(plane.Normal)}
}

// Truth is the plane that the second side was made in.
func TestMirrorPlaneIsFound(t *testing.T) {
	body, truth := twoSided(3)
	fit, err := FindMirror(context.Background(), surfaceOf(t, body), Settings{}, nil)
	require.NoError(t, err)
	require.True(t, fit.Found && fit.Halves)
	turned := angleOf(math.Min(math.Abs(fit.Plane.Normal.Dot(truth.Normal)), 1))
	off := math.Abs(fit.Plane.Point.Sub(truth.Point).Dot(truth.Normal))
	t.Log(off, fit.Offset, turned, fit.Tilt, fit.Share, fit.RMS)
	require.Less(t, turned, 3*fit.Tilt)
	lever := fit.Plane.Point.Dist(truth.Point)
	require.Less(t, off, 3*(fit.Offset+fit.Tilt*lever))
	require.Less(t, fit.Offset, 0.05)
	// The dent covers 2 · pi 200² of 2 · 2 m² or so.
	require.Greater(t, fit.Share, 0.85)
	// Two sides with 0.03 mm of noise each, and the chords of facets 9 mm wide.
	require.InDelta(t, 0.045, fit.RMS, 0.02)
}

func TestMirroredTwiceIsTheSame(t *testing.T) {
	body, _ := twoSided(1)
	plane := MirrorPlane{geom.Vec{X: 3, Y: 4, Z: 5}, geom.Vec{X: 1, Y: -2, Z: 2}.Unit()}
	once := plane.Mirrored(body)
	require.InDelta(t, 0, once.Area()/body.Area()-1, 1e-12)
	twice := plane.Mirrored(once)
	require.Equal(t, body.Faces, twice.Faces)
	for i, p := range body.Vertices {
		require.InDelta(t, 0, p.Dist(twice.Vertices[i]), 1e-9)
	}
	// Square to an axis through the origin it is the mesh's own reflection.
	axis := MirrorPlane{Normal: geom.Vec{Y: 1}}.Mirrored(body)
	require.Equal(t, body.Mirrored(1).Faces, axis.Faces)
	for i, p := range body.Mirrored(1).Vertices {
		require.InDelta(t, 0, p.Dist(axis.Vertices[i]), 1e-12)
	}
}

func TestHalvesOfAGivenPlane(t *testing.T) {
	body, truth := twoSided(5)
	fit, err := MirrorHalves(context.Background(), truth, surfaceOf(t, truth.Mirrored(body)), 0)
	require.NoError(t, err)
	require.False(t, fit.Found)
	require.Greater(t, fit.Share, 0.85)
	// Beside the body there are no halves.
	far := MirrorPlane{truth.Point.AddScaled(5000, truth.Normal), truth.Normal}
	fit, err = MirrorHalves(context.Background(), far, surfaceOf(t, far.Mirrored(body)), 0)
	require.NoError(t, err)
	require.False(t, fit.Halves)
}

func TestNoMirrorPlaneIsInvented(t *testing.T) {
	side := bodywork.SmoothSide(bodywork.Sampling{Triangles: 20_000})
	_, err := FindMirror(context.Background(), surfaceOf(t, side), Settings{}, nil)
	require.ErrorIs(t, err, ErrMirror)
	require.ErrorContains(t, err, "is not symmetric: in the best plane")
	_, err = FindMirror(context.Background(), surfaceOf(t, block(12)), Settings{}, nil)
	require.ErrorIs(t, err, ErrMirror)
	require.ErrorContains(t, err, "symmetric in more than one plane: 100 %")
}
