package mesh_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// A corner that is no vertex is a fault of the caller's, which reaches it on its own goroutine.
func TestNormalsFaultReachesTheCaller(t *testing.T) {
	m := &mesh.Mesh{Vertices: make([]geom.Vec, 3), Faces: make([][3]uint32, 20000)}
	m.Faces[15000] = [3]uint32{0, 1, 9}
	require.Panics(t, func() { m.VertexNormals() })
}
