package main

import (
	"bufio"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

// joint is a seam along +y through the origin, 200 mm long, 4 mm wide and 0.5 mm proud at side B, which lies at +x.
func joint() *mesh.Mesh {
	return bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: 4, Flush: 0.5, Length: 200, Width: 40, Spacing: 1.2, Noise: 0.01, Jitter: 0.2, Seed: 1,
	}).Mesh
}

// alone runs an inspection of a scan without a reference and returns its text in one line, and where the results are.
func alone(t *testing.T, m *mesh.Mesh, seams string) (r result, said, out string) {
	t.Helper()
	dir := t.TempDir()
	f, err := os.Create(filepath.Join(dir, "scan.stl"))
	require.NoError(t, err)
	b := bufio.NewWriter(f)
	require.NoError(t, meshio.WriteSTL(b, m))
	require.NoError(t, b.Flush())
	require.NoError(t, f.Close())
	file := filepath.Join(dir, "job.toml")
	require.NoError(t, os.WriteFile(file, []byte("[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n"+seams), 0o600))
	out = filepath.Join(dir, "out")
	r = shutcheck("inspect", file, "--out", out)
	return r, strings.Join(strings.Fields(r.out), " "), out
}

// A path typed in reverse exchanges the panels' letters, and so what the seam's name claims: everything that is
// told of it must let a swap be seen.
func TestAPathTypedInReverseSwapsTheSides(t *testing.T) {
	for _, c := range []struct{ path, a, b, said string }{
		{"[[0, 10, 0], [0, 190, 0]]", "-x", "+x", "Side A, called wing, lies toward −x; side B, called door, lies toward +x. Where that is the wrong way round, name the seam “door to wing”."},
		{"[[0, 190, 0], [0, 10, 0]]", "+x", "-x", "Side A, called wing, lies toward +x; side B, called door, lies toward −x."},
	} {
		r, said, out := alone(t, joint(), "[[seam]]\nname = \"wing to door left\"\npath = "+c.path+"\npictures = \"none\"\n")
		require.Zero(t, r.status, r.errors)
		require.Contains(t, said, c.said)
		require.Contains(t, said, "These axes are the scan's own")
		data, err := os.ReadFile(filepath.Join(out, "results.json"))
		require.NoError(t, err)
		var results struct {
			Seams []struct {
				Panels []string
				Sides  []struct {
					First int    `json:"first_station"`
					Last  int    `json:"last_station"`
					A     string `json:"a_toward"`
					B     string `json:"b_toward"`
				}
				Stations []json.RawMessage
			}
		}
		require.NoError(t, json.Unmarshal(data, &results))
		s := results.Seams[0]
		require.Equal(t, []string{"wing", "door"}, s.Panels)
		require.Len(t, s.Sides, 1)
		require.Equal(t, [2]string{c.a, c.b}, [2]string{s.Sides[0].A, s.Sides[0].B})
		require.Equal(t, [2]int{1, len(s.Stations)}, [2]int{s.Sides[0].First, s.Sides[0].Last})
		table, err := os.ReadFile(filepath.Join(out, "seams.csv"))
		require.NoError(t, err)
		require.Contains(t, string(table), ",\"A "+c.a+", B "+c.b+"\"\r\n")
		require.True(t, slices.Contains(files(t, out), "seams-top.png"), "a scan alone has a picture of its seams: %v", files(t, out))
	}
}
