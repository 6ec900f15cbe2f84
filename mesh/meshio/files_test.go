package meshio_test

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/meshio"
)

// plyBinary writes m as binary little-endian PLY with doubles.
func plyBinary(m *mesh.Mesh) []byte {
	return plyOrdered(m, binary.LittleEndian, "binary_little_endian")
}

func plyOrdered(m *mesh.Mesh, order binary.AppendByteOrder, format string) []byte {
	b := fmt.Appendf(nil, "ply\nformat %s 1.0\nelement vertex %d\nproperty double x\nproperty double y\nproperty double z\nproperty uchar red\n", format, len(m.Vertices))
	b = fmt.Appendf(b, "element face %d\nproperty list uchar uint vertex_indices\nproperty short group\nend_header\n", len(m.Faces))
	for _, v := range m.Vertices {
		for _, x := range []float64{v.X, v.Y, v.Z} {
			b = order.AppendUint64(b, math.Float64bits(x))
		}
		b = append(b, 200)
	}
	for _, f := range m.Faces {
		b = append(b, 3)
		for _, v := range f {
			b = order.AppendUint32(b, v)
		}
		b = order.AppendUint16(b, 7)
	}
	return b
}

// save puts data into a file and returns its path.
func save(t testing.TB, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, data, 0o600))
	return path
}

var inMM = meshio.Options{Unit: meshio.Millimetre}

func read(t testing.TB, name string, data []byte) (*meshio.Loaded, error) {
	t.Helper()
	return meshio.Read(context.Background(), save(t, name, data), inMM)
}

func mustRead(t testing.TB, name, data string) *meshio.Loaded {
	t.Helper()
	l, err := read(t, name, []byte(data))
	require.NoError(t, err)
	return l
}
