package meshio_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

// No file holds fewer triangles than its size is taken for, in whatever form it is written.
func TestLeastIsNeverMoreThanAFileHolds(t *testing.T) {
	m := bodywork.Plane(100, 100, 1)
	dir := t.TempDir()
	stl := filepath.Join(dir, "a.stl")
	f, err := os.Create(stl)
	require.NoError(t, err)
	require.NoError(t, meshio.WriteSTL(f, m))
	require.NoError(t, f.Close())
	require.Equal(t, len(m.Faces), meshio.Least(stl))
	text, obj, ply := "solid a\n", "", fmt.Sprintf("ply\nformat ascii 1.0\nelement vertex %d\nproperty double x\nproperty double y\nproperty double z\nproperty double nx\nproperty double ny\nproperty double nz\nelement face %d\nproperty list uchar int vertex_indices\nend_header\n", len(m.Vertices), len(m.Faces))
	const number = "%.16e %.16e %.16e"
	for _, v := range m.Vertices {
		obj += fmt.Sprintf("v "+number+"\nvn "+number+"\n", v.X, v.Y, v.Z, -v.X, -v.Y, -1.0)
		ply += fmt.Sprintf(number+" "+number+"\n", v.X, v.Y, v.Z, -v.X, -v.Y, -1.0)
	}
	for _, c := range m.Faces {
		text += fmt.Sprintf("  facet normal "+number+"\n    outer loop\n", -1e-9/3, 1.0, -1.0/3)
		for _, k := range c {
			v := m.Vertices[k]
			text += fmt.Sprintf("      vertex "+number+"\n", v.X, v.Y, v.Z)
		}
		text += "    endloop\n  endfacet\n"
		obj += fmt.Sprintf("f %d//%d %d//%d %d//%d\n", c[0]+1, c[0]+1, c[1]+1, c[1]+1, c[2]+1, c[2]+1)
		ply += fmt.Sprintf("3 %d %d %d\n", c[0], c[1], c[2])
	}
	for name, data := range map[string]string{"t.stl": text + "endsolid a\n", "a.obj": obj, "a.ply": ply} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(data), 0o644))
		n := meshio.Least(path)
		require.LessOrEqual(t, n, len(m.Faces), name)
		require.Greater(t, n, len(m.Faces)/4, name)
	}
	require.Zero(t, meshio.Least(filepath.Join(dir, "nowhere.stl")))
}
