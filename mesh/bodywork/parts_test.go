package bodywork

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
)

// The bracket's size follows from its profile by hand: 60 mm up, a quarter of a
// circle of 5 mm, 120 mm along X, 70 degrees of 5 mm, 40 mm; a sheet of 2 mm.
func TestTheBracketIsAsDrawn(t *testing.T) {
	m := Bracket(Sampling{Triangles: 60000})
	b := m.Bounds()
	rad := 70 * math.Pi / 180
	wantX := 5 + 120 + 5*math.Sin(rad) + 40*math.Cos(rad)
	require.InDelta(t, -1, b.Lo.X, 1e-9)
	require.InDelta(t, wantX+math.Sin(rad)*1, b.Hi.X, 1, "the far flange's end")
	require.InDelta(t, 160, b.Hi.Y, 1e-9)
	require.InDelta(t, 0, b.Lo.Y, 1e-9)
	require.InDelta(t, 60+5+5*(1-math.Cos(rad))+40*math.Sin(rad), b.Hi.Z, 1.1)
	e, err := mesh.NewEdges(context.Background(), m)
	require.NoError(t, err)
	loops, err := e.BorderLoops(context.Background(), m)
	require.NoError(t, err)
	round := 0
	for _, l := range loops {
		if l.Length > 20 && l.Length < 140 {
			round++
		}
	}
	require.Equal(t, 2*len(bracketHoles), round, "every hole opens both skins")
	// Whichever way a skin looks, the other one lies two millimetres behind it.
	volume := 0.0
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		volume += a.Dot(b.Cross(c)) / 6
	}
	require.InDelta(t, 2*m.Area()/2, volume, 0.06*volume, "faces look outward: the volume is the sheet's, less the holes' walls")
}

func TestTheSmoothSideLooksOutward(t *testing.T) {
	m := SmoothSide(Sampling{Triangles: 40000, Jitter: true, Seed: 3})
	b := m.Bounds()
	require.InDelta(t, 2400, b.Size().X, 60, "the rear panel ends where the bow of its edge carries it")
	require.InDelta(t, 900, b.Size().Z, 1e-9)
	up := 0.0
	for f := range m.Faces {
		up += m.AreaNormal(uint32(f)).Unit().Y
	}
	require.Greater(t, up/float64(len(m.Faces)), 0.6)
	require.InEpsilon(t, 40000, len(m.Faces), 0.2)
}

// The variance and the correlation at 6 mm are those that the doc comment names.
func TestSmoothNoiseIsCorrelatedAsSaid(t *testing.T) {
	m := Plane(600, 600, 6)
	noisy := WithSmoothNoise(m, 0.03, 6, 4)
	w := 101
	var squares, products, n float64
	for i := range m.Vertices {
		d := noisy.Vertices[i].Z
		squares += d * d
		if i+w < len(m.Vertices) {
			products += d * noisy.Vertices[i+w].Z
			n++
		}
	}
	variance := squares / float64(len(m.Vertices))
	// 10 000 samples, some three of which are worth one: a standard error of 0.0004 mm.
	require.InDelta(t, 0.03, math.Sqrt(variance), 0.0012)
	require.InDelta(t, math.Exp(-1), products/n/variance, 0.05)
}
