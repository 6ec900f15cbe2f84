package align

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Points on one line lie on every reference and on none.
func TestPointsOnALineAreRefused(t *testing.T) {
	cloud := &mesh.Mesh{}
	for i := range 3000 {
		cloud.Vertices = append(cloud.Vertices, geom.Vec{X: float64(i)})
	}
	_, err := BestFit(context.Background(), cloud, surfaceOf(t, bodywork.Bracket(bodywork.Sampling{Triangles: 20000})), Settings{}, nil)
	require.ErrorIs(t, err, ErrNoOverlap)
}
