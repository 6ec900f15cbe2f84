package mesh_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Twins are what the table of edges says, on meshes with borders, branching edges,
// repeated faces and corners, and a vertex with very many faces.
func TestTwinsAgreeWithEdges(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for round := range 200 {
		m := &mesh.Mesh{Vertices: make([]geom.Vec, 3+r.IntN(40))}
		n := uint32(len(m.Vertices))
		for range r.IntN(90) {
			f := [3]uint32{r.Uint32N(n), r.Uint32N(n), r.Uint32N(n)}
			if round%2 == 0 {
				f[0] = 0
			}
			m.Faces = append(m.Faces, f)
		}
		twins, err := mesh.Twins(context.Background(), m)
		require.NoError(t, err)
		edges, err := mesh.NewEdges(context.Background(), m)
		require.NoError(t, err)
		for f := range m.Faces {
			for k := range 3 {
				sides := edges.Sides(edges.OfFace[f][k])
				twin := twins[3*f+k]
				if len(sides) != 2 {
					require.EqualValues(t, mesh.NoTwin, twin)
					continue
				}
				require.NotEqualValues(t, mesh.NoTwin, twin)
				require.EqualValues(t, 3*f+k, twins[twin])
				require.Equal(t, edges.OfFace[f][k], edges.OfFace[twin/3][twin%3])
				require.NotEqualValues(t, 3*f+k, twin)
			}
		}
	}
}
