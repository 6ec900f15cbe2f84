package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// info tells the noise that the generator put on the scan (0.03 mm), and, of a scan joined from two
// passes 1.2 mm apart, where they lie over one another.
func TestInfoTellsNoiseAndDoubledSkins(t *testing.T) {
	j, err := bodywork.Van(context.Background(), bodywork.Options{Size: 150000, Seed: 2}, nil)
	require.NoError(t, err)
	patch := bodywork.SpherePatch(2500, 0.2, 4)
	again := patch.Moved(geom.Rigid{R: geom.Identity().R, T: geom.Vec{X: 0.7, Y: 0.5, Z: 1.2}})
	n := uint32(len(patch.Vertices))
	both := &mesh.Mesh{Vertices: append(append([]geom.Vec(nil), patch.Vertices...), again.Vertices...), Faces: append([][3]uint32(nil), patch.Faces...)}
	for _, f := range again.Faces {
		both.Faces = append(both.Faces, [3]uint32{f[0] + n, f[1] + n, f[2] + n})
	}
	dir := t.TempDir()
	paths := []string{filepath.Join(dir, "scan.stl"), filepath.Join(dir, "joined.stl")}
	stl(t, paths[0], j.Scan)
	stl(t, paths[1], both)
	got := shutcheck("--json", "info", paths[0], paths[1])
	require.Zero(t, got.status, got.errors)
	var d []description
	require.NoError(t, json.Unmarshal([]byte(got.out), &d))
	require.InDelta(t, 0.03, *d[0].Noise, 0.01)
	require.Less(t, *d[0].Doubled, 0.01)
	require.InDelta(t, 1.2, *d[1].DoubledGap, 0.1)
	require.Greater(t, *d[1].Doubled, 0.9)
	require.Contains(t, d[1].Faults[len(d[1].Faults)-1], "passes that do not match seem to have been joined")

	// What is gravely wrong with a mesh is said beside its deviations, too.
	stl(t, filepath.Join(dir, "reference.stl"), patch)
	file := filepath.Join(dir, "job.toml")
	require.NoError(t, os.WriteFile(file, []byte("[scan]\nfile = \"joined.stl\"\nunits = \"mm\"\n[reference]\nfile = \"reference.stl\"\nunits = \"mm\"\n[place]\nmethod = \"none\"\n[surface]\nviews = []\n"), 0o600))
	got = shutcheck("inspect", file, "--out", filepath.Join(dir, "r"))
	require.Contains(t, strings.Join(strings.Fields(got.out), " "), "The scan: 100 % of the area has another skin facing the same way beside it")
}

// The median spacing of a scan that is fine at its edges and coarse on its flats says little of its seams: a plate of squares of
// 5 mm, 2760 edges, and one of 1 mm, 508 edges of 1 mm and their diagonals, so that a tenth of all is 1 mm.
func TestInfoSaysHowFineTheFinestPartIs(t *testing.T) {
	m := bodywork.Together(bodywork.Plane(150, 150, 5), bodywork.Mapped(bodywork.Plane(20, 8, 1), func(p geom.Vec) geom.Vec { return p.Add(geom.Vec{X: 200}) }))
	path := filepath.Join(t.TempDir(), "plates.stl")
	stl(t, path, m)
	got := shutcheck("info", "--units", "mm", path)
	require.Zero(t, got.status, got.errors)
	words := strings.Join(strings.FieldsFunc(got.out, func(r rune) bool { return r == ' ' || r == '\n' }), " ")
	require.Contains(t, words, "spacing 5 mm between neighbouring points (edges of 1 to 7.07); a tenth of the edges is under 1 mm. For gaps and flushes the spacing on the panels' edges counts")
	require.Contains(t, words, "its points are 5 mm apart at the median and under 1 mm where they lie closest: how close they lie on the hems is what counts")
	got = shutcheck("--json", "info", "--units", "mm", path)
	var d []description
	require.NoError(t, json.Unmarshal([]byte(got.out), &d))
	require.InDelta(t, 1, *d[0].FineEdge, 1e-6)
	require.InDelta(t, 5, *d[0].MedianEdge, 1e-6)
}
