package gapflush_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// A straight piece bent along its length, in the skin as a wheel arch and over
// a crown, keeps its gap and flush: nothing may smear or bias.
func TestCurvedSeams(t *testing.T) {
	for _, R := range []float64{250, 400} {
		for _, over := range []bool{false, true} {
			p := bodywork.NewSeamPiece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.5, Length: 300, Spacing: 1.0, Seed: 3, Noise: 0.02, Jitter: 0.3})
			bend := func(v geom.Vec) geom.Vec {
				s, c := math.Sincos(v.Y / R)
				if over {
					return geom.Vec{X: v.X, Y: (R + v.Z) * s, Z: (R+v.Z)*c - R}
				}
				return geom.Vec{X: (R+v.X)*c - R, Y: (R + v.X) * s, Z: v.Z}
			}
			m := &mesh.Mesh{Faces: p.Mesh.Faces}
			for _, v := range p.Mesh.Vertices {
				m.Vertices = append(m.Vertices, bend(v))
			}
			a, b := p.Path[0], p.Path[len(p.Path)-1]
			var path []geom.Vec
			for i := 0; i <= 20; i++ {
				path = append(path, bend(a.Lerp(b, float64(i)/20)))
			}
			s := gapflush.DefaultSeam("arch", path)
			s.Radius = [2]float64{1.5, 1.5}
			r := measure(t, m, s, gapflush.Settings{})
			require.Len(t, r.Stations, 12)
			for _, st := range r.Stations {
				require.Equal(t, gapflush.Measured, st.State, st.Why)
				require.InDelta(t, 4, st.Gap.V, 0.05)
				require.InDelta(t, 0.5, st.Flush.V, 0.05)
				require.LessOrEqual(t, math.Abs(st.Gap.V-4), 3*st.Gap.U/2)
				require.LessOrEqual(t, math.Abs(st.Flush.V-0.5), 3*st.Flush.U/2)
			}
		}
	}
}
