package pieces

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// On a flat plate nothing but noise tilts a smoothed normal.
func TestNoiseFeignsNoMoreThanIsTakenOff(t *testing.T) {
	for _, h := range []float64{1, 2, 3} {
		for _, s := range []float64{0.03, 0.1, 0.3} {
			b, err := newBody(t.Context(), Piece{"p", bodywork.WithNoise(bodywork.Plane(200, 200, h), s, 3)}, 1)
			require.NoError(t, err)
			sum, n := 0.0, 0.0
			for _, v := range thinned(b.probes, 2000) {
				q := b.mesh.Vertices[v]
				if q.X < 20 || q.X > 180 || q.Y < 20 || q.Y > 180 {
					continue
				}
				x := b.smoothNormal(v)
				sum += x.X*x.X + x.Y*x.Y
				n += 2
			}
			require.Less(t, sum/n, feignedMargin*b.feigned, "noise %g at %g mm", s, h)
		}
	}
}

// arched is a length of a cylinder of 400 mm radius about X from x on, 300 mm long, which nothing holds along X.
func arched(x, noise float64, seed uint64) *mesh.Mesh {
	m := bodywork.Plane(300, 480, 2)
	for k, p := range m.Vertices {
		s, c := geom.Sincos((p.Y - 240) / 400)
		m.Vertices[k] = geom.Vec{X: x + p.X, Y: 400 * s, Z: 400 * c}
	}
	return bodywork.WithNoise(m, noise, seed)
}

// Noise of a poor scanner's piece is no shape: along a cylinder its overlap holds nothing, and the piece stays where it was loaded.
func TestNoiseHoldsNothingAlongACylinder(t *testing.T) {
	all := []Piece{{"a", arched(0, 0.3, 1)}, {"b", arched(225, 0.05, 2)}}
	r, err := Join(t.Context(), all, nil, nil, Settings{}, nil)
	require.NoError(t, err)
	require.Len(t, r.Overlaps, 1)
	require.True(t, r.Pieces[1].Free[0], "the slide along X")
	require.Less(t, geom.MaxDisplacement(r.Pieces[1].JoinedFromPiece, geom.Identity(), all[1].Mesh.Bounds()), 10.0)
}

// Plates that overlap by a finger's width lie on one another anywhere: nobody knows where, and they are not stacked.
func TestPlatesThatHardlyOverlapAreNotStacked(t *testing.T) {
	plate := func(x float64, seed uint64) *mesh.Mesh {
		m := bodywork.Plane(250, 250, 2)
		for k := range m.Vertices {
			m.Vertices[k].X += x
		}
		return bodywork.WithNoise(m, 0.02, seed)
	}
	_, err := Join(t.Context(), []Piece{{"a", plate(0, 1)}, {"b", plate(230, 2)}}, nil, nil, Settings{}, nil)
	require.ErrorContains(t, err, "overlaps none of the other pieces")
}
