package length_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/length"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// walls are two squares at x = 0 and x = 1000.4, square to x.
func walls() *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, x := range []float64{0, 1000.4} {
		n := uint32(len(m.Vertices))
		m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: -50, Z: -50}, geom.Vec{X: x, Y: 50, Z: -50}, geom.Vec{X: x, Y: 50, Z: 50}, geom.Vec{X: x, Y: -50, Z: 50})
		m.Faces = append(m.Faces, [3]uint32{n, n + 1, n + 2}, [3]uint32{n, n + 2, n + 3})
	}
	return m
}

func known() length.Known {
	return length.Known{From: geom.Vec{X: 2}, To: geom.Vec{X: 999}, Length: 1000, U: 0.05, HasAllowed: true, A: 0.3, PerMetre: 0.2}
}

// By hand: 1000.4 - 1000 = 0.4 mm = 400 ppm, allowed 0.3 + 0.2*1 = 0.5 mm;
// 0.4 + U = 0.45 lies inside.
func TestPlainLength(t *testing.T) {
	r, err := length.Measure(context.Background(), walls(), known(), length.Settings{})
	require.NoError(t, err)
	require.InDelta(t, 1000.4, r.Measured.V, 1e-9)
	require.InDelta(t, 0.4, r.Error.V, 1e-9)
	require.InDelta(t, 400, r.ErrorPPM, 1e-6)
	require.InDelta(t, 0.5, r.Allowed, 1e-12)
	require.InDelta(t, 0.05, r.Error.U, 1e-12)
	require.Equal(t, verdict.Conforms, r.Verdict)
}

// By hand: L20 = 1000.4 / (1 + 11.5e-6*10) = 1000.28497 (ISO 1 refers to 20 °C);
// U = 2 sqrt((1000.4*10*1e-6/sqrt 3)² + (1000.4*11.5e-6/sqrt 3)²) = 0.0176.
func TestTemperature(t *testing.T) {
	k := known()
	k.HasTemperature, k.Temperature, k.Expansion = true, 30, 11.5e-6
	r, err := length.Measure(context.Background(), walls(), k, length.Settings{})
	require.NoError(t, err)
	require.InDelta(t, 1000.284967, r.Measured.V, 1e-5)
	require.InDelta(t, 0.0176, r.Measured.U, 1e-4)
}

func TestNoiseActsAtBothEnds(t *testing.T) {
	r, err := length.Measure(context.Background(), walls(), known(), length.Settings{Noise: 0.035})
	require.NoError(t, err)
	require.InDelta(t, 2*0.035*1.41421356, r.Measured.U, 1e-8)
	require.Equal(t, verdict.Undecided, r.Verdict) // U = sqrt(0.0990² + 0.05²) = 0.111: 0.4 + 0.111 lies beyond 0.5
}

func TestNoNumberIsInvented(t *testing.T) {
	k := known()
	k.To.X = 800 // 200 mm from the wall
	r, err := length.Measure(context.Background(), walls(), k, length.Settings{})
	require.NoError(t, err)
	require.False(t, r.Measured.OK)
	require.Contains(t, r.Why, "second point")
	require.Equal(t, verdict.Undecided, r.Verdict)
	k.To = k.From
	_, err = length.Measure(context.Background(), walls(), k, length.Settings{})
	require.ErrorContains(t, err, "the same")
}
