package main

import (
	"bufio"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
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
		{"[[0, 10, 0], [0, 190, 0]]", "-x", "+x", "Side A, called wing, lies toward −x; side B, called door, lies toward +x. Where that is the wrong way round, name the seam “door to wing left”."},
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
		require.Contains(t, string(table), ",\"A "+c.a+", B "+c.b+"\",,seam-wing-to-door-left.png,gap: not judged; flush: not judged\r\n")
		require.True(t, slices.Contains(files(t, out), "seams-top.png"), "a scan alone has a picture of its seams: %v", files(t, out))
	}
}

// Every seam that cannot be what is meant ends in an error or in a state, of which a sentence names what to change.
func TestASeamThatCannotBeMeasuredSaysWhatToChange(t *testing.T) {
	m := joint()
	const name, path = "[[seam]]\nname = \"s\"\npictures = \"none\"\n", "path = [[0, 10, 0], [0, 190, 0]]\n"
	var zigzag []string
	for k := range 300 {
		zigzag = append(zigzag, "["+[2]string{"-1", "1"}[k%2]+", "+strconv.FormatFloat(10+0.5*float64(k), 'f', 1, 64)+", 0]")
	}
	for _, c := range []struct{ seam, says string }{
		{path + "window = 0.1\n", `line 8: seam "s": window: it reaches 0.1 mm from the path, and the face zone (face) ends 12.5 mm behind the edge, so that nothing can be measured; write window = 25`},
		{path + "face = [2.5, 300]\n", `face: the zone ends 300 mm behind the edge, which is more than a window (window) can hold; write one that ends within 288 mm`},
		{path + "face = [2.5, 80]\n", `window: it reaches 30 mm from the path, and the face zone (face) ends 80 mm behind the edge`},
		{path + "every = 500\n", `line 8: seam "s": every: stations 500 mm apart on a path 180 mm long: the first stands half of that in, so that the path has none; write every = 25 or less`},
		{path + "every = 200\n", `line 8: seam "s": every: stations 200 mm apart on a path 180 mm long: that is one station, which does not say how the seam runs; write every = 25 or less`},
		{"path = [" + strings.Join(zigzag, ", ") + "]\n", `line 7: seam "s": path: its points run to and fro: of 616 mm from point to point, only`},
	} {
		r, _, _ := alone(t, m, name+c.seam)
		require.Equal(t, 65, r.status, c.says)
		require.Contains(t, r.errors, c.says)
	}
	one := &mesh.Mesh{Vertices: m.Vertices}
	for _, f := range m.Faces {
		if m.Vertices[f[0]].X < 0 {
			one.Faces = append(one.Faces, f)
		}
	}
	turned := &mesh.Mesh{Vertices: m.Vertices}
	for _, f := range m.Faces {
		turned.Faces = append(turned.Faces, [3]uint32{f[0], f[2], f[1]})
	}
	for _, c := range []struct {
		scan       *mesh.Mesh
		seam       string
		says, does string
	}{
		{m, path + "band = 0.001\n", "in a band of ±0.001 mm (band) needs them within", "Next: Stations 1 to 7: scan finer, or give a wider zone (face) or band (band)."},
		{m, path + "face = [2.5, 80]\nwindow = 200\n", "The face zone of side A, 2.5 to 80.0 mm behind its edge, reaches farther than the panel goes on as one face, or than it was scanned.", "Next: Stations 1 to 7: give a shorter zone (face), as [2.5, 12.5] is."},
		{m, path + "face = [36, 50]\nwindow = 200\n", "The face zone of side A, 36.0 to 50.0 mm behind its edge, reaches farther than the panel goes on as one face, or than it was scanned.", "Next: Stations 1 to 7: give a shorter zone (face), as [2.5, 12.5] is."},
		{one, path, "Side B has no surface beside the gap.", "Next: Stations 1 to 7: scan that panel, or end the path where it ends."},
		{m, "path = [[500, 10, 0], [500, 190, 0]]\n", "No surface lies within 20 mm of the path and 6 mm of its height.", "Next: The path is not where the scan has this seam: check its points"},
		{m, "path = [[0, 10, 0], [0, 190, 0], [0, 10, 0]]\n", "The path has turned back along the gap it came by, so sides A and B are swapped here.", ": draw it one way."},
		{m, "path = [[-20, 10, 0], [20, 190, 0]]\n", "The path runs slantwise to the gap, by 13° at station", "Draw the path along the middle of the gap (path)."},
		{turned, path, "The faces look inward: by them the edges of both panels bend outward.", "turn the scan's faces round (its winding) in the program that made it."},
		// A tolerance without a nominal is no matter of scanning again.
		{m, path + "gap = { tolerance = [-1.0, 0.5] }\n", "The seam cannot be decided: at 7 of 7 stations there is no nominal to judge by.",
			"Next: At 7 of 7 stations there is no nominal to judge by, as there is no reference to measure it on. Write it in mm beside the tolerance, gap = { nominal = …, tolerance = [-1.00, 0.50] }; or name another seam in its place, nominal_from = \"other side\"; or give a [reference] that has this seam."},
	} {
		r, said, _ := alone(t, c.scan, name+c.seam)
		require.Contains(t, []int{0, 4}, r.status, r.errors)
		said = strings.ReplaceAll(said, "−", "-")
		require.Contains(t, said, c.says)
		require.Contains(t, said, c.does)
		require.NotContains(t, said, "Scan this seam again")
	}
}

// Two points of a path in the wrong order make it fold over itself: that is said first, and neither taper nor moves come of it; the stations
// keep their own numbers.
func TestPointsInTheWrongOrderAreNamed(t *testing.T) {
	judged := "flush = { nominal = 1.5, tolerance = [-0.5, 0.5] }\ntaper = { tolerance = [-0.2, 0.2] }\npictures = \"none\"\n"
	ordered := "[[seam]]\nname = \"wing to door\"\npath = [[0, 5, 0], [0, 50, 0], [0, 90, 0], [0, 140, 0], [0, 195, 0]]\nevery = 10\n" + judged
	swapped := strings.Replace(ordered, "[0, 50, 0], [0, 90, 0], [0, 140, 0]", "[0, 50, 0], [0, 140, 0], [0, 90, 0]", 1)
	r, said, _ := alone(t, joint(), ordered)
	require.Equal(t, 3, r.status, r.errors)
	require.Contains(t, said, "Taper ")
	require.Contains(t, said, "must at station 1")
	require.NotContains(t, said, "order")
	for _, trace := range []string{"", "trace = true\n"} {
		r, said, out := alone(t, joint(), swapped+trace)
		require.Equal(t, 3, r.status, r.errors)
		require.Contains(t, said, "have no gap. Points 3 and 4 of the path seem to be in the wrong order: exchanged with one another, the path runs one way.")
		require.Contains(t, said, "Next: First: put points 3 and 4 of the path in their order (path) and measure again.")
		require.NotContains(t, said, "Taper ")
		for _, not := range []string{"must at", "the one that stays?", "aside of the line", "draw it one way", "end it before"} {
			require.NotContains(t, said, not)
		}
		seams := table(t, filepath.Join(out, "seams.csv"))
		require.Empty(t, seams[0]["taper_mm_per_100mm"])
		require.Equal(t, "undecided", seams[0]["taper_verdict"])
		n := 0
		for _, s := range table(t, filepath.Join(out, "stations.csv")) {
			if s["gap_mm"] != "" {
				gap, err := strconv.ParseFloat(s["gap_mm"], 64)
				require.NoError(t, err)
				require.InDelta(t, 4, gap, 0.1)
				n++
			}
		}
		require.Greater(t, n, 15)
	}
	r, said, _ = alone(t, joint(), strings.Replace(swapped, "[0, 195, 0]", "[0, 130, 0], [0, 100, 0]", 1))
	require.Equal(t, 3, r.status, r.errors)
	require.Contains(t, said, "Next: First: draw the path one way along the gap (path) and measure again")
	require.NotContains(t, said, "Taper ")
}

// A path typed in another unit, or in the scan's frame, is told as that; and where nothing was measured, nothing was assumed.
func TestAPathInAnotherUnitOrFrameIsTold(t *testing.T) {
	shifted := bodywork.Mapped(joint(), func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{X: 508}) })
	for path, says := range map[string]string{
		"path = [[20, 0.4, 0], [20, 7.5, 0]]\n":                "Times 25.4, it would lie on the scan: write it in mm.",
		"path = [[50.8, 1, 0], [50.8, 19, 0]]\n":               "Times 10, it would lie on the scan: write it in mm.",
		"trace = true\npath = [[20, 0.4, 0], [20, 7.5, 0]]\n":  "times 25.4, the path would lie on it: write it in mm",
		"trace = true\npath = [[20, 90.4, 0], [20, 170, 0]]\n": "put it on the gap: paths are in the scan's frame, in mm",
	} {
		r, said, _ := alone(t, shifted, "[[seam]]\nname = \"s\"\npictures = \"none\"\n"+path)
		require.Contains(t, said+strings.Join(strings.Fields(r.errors), " "), says, path)
		require.NotContains(t, said, "was assumed")
	}
	dir := t.TempDir()
	for name, m := range map[string]*mesh.Mesh{"reference.stl": shifted, "scan.stl": joint()} {
		f, err := os.Create(filepath.Join(dir, name))
		require.NoError(t, err)
		require.NoError(t, meshio.WriteSTL(f, m))
		require.NoError(t, f.Close())
	}
	file := filepath.Join(dir, "job.toml")
	require.NoError(t, os.WriteFile(file, []byte("[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n[reference]\nfile = \"reference.stl\"\nunits = \"mm\"\n[surface]\nviews = []\n"+
		"[place]\nmethod = \"given\"\nmatrix = [1,0,0,508, 0,1,0,0, 0,0,1,0, 0,0,0,1]\n[[seam]]\nname = \"s\"\npictures = \"none\"\npath = [[0, 10, 0], [0, 190, 0]]\n"), 0o600))
	r := shutcheck("inspect", file, "--out", filepath.Join(dir, "out"))
	said := strings.Join(strings.Fields(r.out), " ")
	require.Contains(t, said, "It lies on the scan as the scan's file has it: write it in the reference's frame; or, where scan and reference were exchanged, take them the other way round.")
	require.NotContains(t, said, "was assumed")
}

// A traced seam is walked so that A is the panel nearer the front, whichever of its points is typed first.
func TestATracedSeamHasItsSidesByTheAxes(t *testing.T) {
	for _, path := range []string{"[[0, 10, 0], [0, 190, 0]]", "[[0, 190, 0], [0, 10, 0]]"} {
		r, said, _ := alone(t, joint(), "[[seam]]\nname = \"wing to door\"\npictures = \"none\"\ntrace = true\npath = "+path+"\n")
		require.Zero(t, r.status, r.errors)
		require.Contains(t, said, "Side A, called wing, lies toward −x; side B, called door, lies toward +x.", path)
	}
}
