package bodywork

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/mesh/geom"
)

// For level faces gap and flush are the wanted ones and the feeler is that of
// two circles: hypot(gap + rA + rB, flush + rA - rB) - rA - rB, as long as the
// line of centres meets both arcs above their ends.
func TestSeamPieceIsAsAskedFor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ra := rapid.Float64Range(0.5, 2.5).Draw(t, "ra")
		rb := rapid.Float64Range(0.5, 2.5).Draw(t, "rb")
		gap := rapid.Float64Range(1, 8).Draw(t, "gap")
		flush := rapid.Float64Range(-1, 1).Draw(t, "flush")
		p := NewSeamPiece(SeamPieceOptions{Radius: [2]float64{ra, rb}, Gap: gap, Flush: flush, Length: 5, Spacing: 2})
		m := p.Truth[0]
		require.InDelta(t, gap, m.Gap, 1e-9)
		require.InDelta(t, flush, m.Flush, 1e-9)
		require.InDelta(t, -flush, p.Truth[1].Flush, 1e-9)
		circles := math.Hypot(gap+ra+rb, flush+ra-rb) - ra - rb
		if math.Abs(flush+ra-rb) < (gap+ra+rb)*math.Tan(pastNose) {
			require.InDelta(t, circles, m.Feeler, 1e-8)
		} else {
			require.Greater(t, m.Feeler, circles)
		}
	})
}

func TestSeamPieceAngle(t *testing.T) {
	p := NewSeamPiece(SeamPieceOptions{Radius: [2]float64{1.5, 1}, Gap: 4, Flush: 0.3, Angle: 0.2})
	require.InDelta(t, 0.2, p.Truth[0].Angle, 1e-12)
	require.InDelta(t, 4, p.Truth[0].Gap, 1e-9)
	require.InDelta(t, 0.3, p.Truth[0].Flush, 1e-12)
	// B's face falls away, so its far end lies below A's plane by width sin(angle).
	low := p.Mesh.Bounds()
	require.InDelta(t, 0.3-40*math.Sin(0.2), low.Lo.Z, 1e-9)
	// The nose is where B's normal turned by the angle less than a quarter: pi/2 + 0.2 from the shoulder for a face that falls away.
	require.InDelta(t, math.Pi/2+0.2, p.Truth[0].NoseArc[1], 1e-6)
}

func TestSeamPieceLooksOutward(t *testing.T) {
	p := NewSeamPiece(SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Jitter: 0.3, Noise: 0.01, Seen: [2]float64{1, 1}})
	for f := range p.Mesh.Faces {
		require.Greater(t, p.Mesh.AreaNormal(uint32(f)).Z, 0.0)
	}
}

func TestShapesLieOnTheirFormula(t *testing.T) {
	for _, v := range SpherePatch(500, 0.4, 10).Vertices {
		require.InDelta(t, 500, v.Norm(), 1e-9)
	}
	for _, v := range CylinderPatch(300, 0.5, 50, 10).Vertices {
		require.InDelta(t, 300, math.Hypot(v.X, v.Z), 1e-9)
	}
	s := SpherePatch(500, 0.4, 10)
	for f := range s.Faces {
		a, _, _ := s.Corners(uint32(f))
		require.Positive(t, s.AreaNormal(uint32(f)).Dot(a))
	}
	require.InDelta(t, 100*50, Plane(100, 50, 7).Area(), 1e-9)
	require.Equal(t, geom.Vec{Z: 1}, Plane(10, 10, 5).AreaNormal(0).Unit())
}
