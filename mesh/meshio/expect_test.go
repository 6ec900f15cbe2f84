package meshio_test

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

// What a file is expected to hold is what it holds; of text some hundredths less, in whatever form it is written.
func TestExpectedIsWhatAFileHolds(t *testing.T) {
	m := bodywork.Plane(400, 400, 1)
	dir := t.TempDir()
	put := func(name string, write func(w *bufio.Writer)) string {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		require.NoError(t, err)
		w := bufio.NewWriter(f)
		write(w)
		require.NoError(t, w.Flush())
		require.NoError(t, f.Close())
		return path
	}
	of := func(write func(*bufio.Writer, *mesh.Mesh)) func(*bufio.Writer) {
		return func(w *bufio.Writer) { write(w, m) }
	}
	for name, write := range map[string]func(*bufio.Writer, *mesh.Mesh){"binary.stl": stl, "binary.ply": plyFile, "text.ply": plyTextFile, "binary.glb": glbFile} {
		e := meshio.Expect(put(name, of(write)))
		require.Equal(t, len(m.Faces), e.Faces, name)
		require.Zero(t, e.Points, name)
		require.Greater(t, e.Memory, int64(30*len(m.Faces)), name)
	}
	const number = "%.16e %.16e %.16e"
	full := func(w *bufio.Writer) {
		for _, v := range m.Vertices {
			fmt.Fprintf(w, "v "+number+"\nvn "+number+"\n", v.X, v.Y, v.Z, -v.X, -v.Y, -1.0)
		}
		for _, c := range m.Faces {
			fmt.Fprintf(w, "f %d//%d %d//%d %d//%d\n", c[0]+1, c[0]+1, c[1]+1, c[1]+1, c[2]+1, c[2]+1)
		}
	}
	quads := func(w *bufio.Writer) {
		for _, v := range m.Vertices {
			fmt.Fprintf(w, "v %g %g %g\r\n", v.X, v.Y, v.Z)
		}
		for k := 0; k+1 < len(m.Faces); k += 2 {
			c := m.Faces[k]
			fmt.Fprintf(w, "f %d %d %d %d\r\n", c[0]+1, c[1]+1, c[2]+1, m.Faces[k+1][2]+1)
		}
	}
	loud := func(w *bufio.Writer) {
		fmt.Fprint(w, "SOLID A\n")
		for f := range m.Faces {
			a, b, c := m.Corners(uint32(f))
			fmt.Fprintf(w, "\tFACET NORMAL "+number+"\n\t\tOUTER LOOP\n", -1e-9/3, 1.0, -1.0/3)
			fmt.Fprintf(w, "\t\t\tVERTEX "+number+"\n\t\t\tVERTEX "+number+"\n\t\t\tVERTEX "+number+"\n", a.X, a.Y, a.Z, b.X, b.Y, b.Z, c.X, c.Y, c.Z)
			fmt.Fprint(w, "\t\tENDLOOP\n\tENDFACET\n")
		}
		fmt.Fprint(w, "ENDSOLID A\n")
	}
	for name, write := range map[string]func(*bufio.Writer){"text.stl": of(stlText), "loud.stl": loud, "plain.obj": of(obj), "full.obj": full, "quads.obj": quads} {
		n := meshio.Expect(put(name, write)).Faces
		require.LessOrEqual(t, n, len(m.Faces), name)
		require.Greater(t, n, len(m.Faces)*85/100, name)
	}
	points := put("points.ply", func(w *bufio.Writer) {
		fmt.Fprint(w, "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n1 0 0\n0 1 0\n")
	})
	require.Equal(t, 3, meshio.Expect(points).Points)
	require.Zero(t, meshio.Expect(points).Faces)

	// A damaged file, or one that is not there, is its reader's matter.
	require.Zero(t, meshio.Expect(filepath.Join(dir, "nowhere.stl")))
	for name, text := range map[string]string{
		"promises.ply": "ply\nformat ascii 1.0\nelement vertex 3000000000\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n",
		"short.ply":    "ply\nformat ascii 1.0\nelement vertex 3\n",
		"cut.glb":      "glTF\x02\x00\x00\x00\xff\xff\x00\x00",
		"text.glb":     string(glb(`{"asset":{"version":"2.0"},"meshes":7}`, nil)),
		"counts.glb":   string(glb(`{"asset":{"version":"2.0"},"meshes":[{"primitives":[{"attributes":{"POSITION":9},"indices":-1}]}],"accessors":[{"count":1000000000}]}`, nil)),
		"none.txt":     strings.Repeat("nothing\n", 30),
	} {
		require.Zero(t, meshio.Expect(put(name, func(w *bufio.Writer) { w.WriteString(text) })).Faces, name)
	}
}
