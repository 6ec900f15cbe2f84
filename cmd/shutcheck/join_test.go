package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// doorPieces writes two overlapping pieces of a door-like skin, the second thrown off by some millimetres, and returns their paths.
func doorPieces(t *testing.T, dir string) []string {
	t.Helper()
	off := geom.RotationVector(geom.Vec{X: 0.002, Y: -0.003, Z: 0.004})
	off.T = geom.Vec{X: 2, Y: -3, Z: 1.5}
	var paths []string
	for k, name := range []string{"left.stl", "right.stl"} {
		m := bodywork.Mapped(bodywork.Plane(900, 400, 5), func(p geom.Vec) geom.Vec {
			x, y := p.X-450, p.Y-200
			s, _ := geom.Sincos(x/30 + y/90)
			u, _ := geom.Sincos(y/25 - x/120)
			p.Z += 2*s + 2*u - x*x/6000 - y*y/3000
			return p
		})
		m = bodywork.WithNoise(m, 0.03, uint64(k+1))
		lo, hi := 0.0, 550.0
		if k == 1 {
			lo, hi = 350, 900
		}
		m = bodywork.Without(m, func(c geom.Vec) bool { return c.X < lo || c.X > hi })
		if k == 1 {
			m = m.Moved(off)
		}
		paths = append(paths, filepath.Join(dir, name))
		stl(t, paths[k], m)
	}
	return paths
}

func table(t *testing.T, path string) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, row := range all[1:] {
		m := map[string]string{}
		for k, cell := range row {
			m[all[0][k]] = cell
		}
		rows = append(rows, m)
	}
	return rows
}

// join writes the joined mesh and its tables, the same for any number of threads, and says what it found.
func TestJoin(t *testing.T) {
	dir := t.TempDir()
	paths := doorPieces(t, dir)
	args := append([]string{"join", "--units", "mm"}, paths...)
	r := shutcheck(append(args, "--out", filepath.Join(dir, "one", "joined.stl"), "--threads", "1")...)
	require.Equal(t, 0, r.status, r.errors)
	require.Contains(t, r.out, "2 pieces laid together, overlaps: 1, of the same shape")
	require.Contains(t, r.out, "left.stl stays where it is")
	require.Contains(t, r.out, "overlaps.csv")
	r = shutcheck(append(args, "--out", filepath.Join(dir, "two", "joined.stl"), "--threads", "2", "--json")...)
	require.Equal(t, 0, r.status, r.errors)
	var summary struct {
		Overlaps []struct {
			Shape string  `json:"shape"`
			Step  float64 `json:"step_most_mm"`
		} `json:"overlaps"`
		Faces int `json:"faces"`
	}
	require.NoError(t, json.Unmarshal([]byte(r.out), &summary))
	require.Equal(t, "same shape", summary.Overlaps[0].Shape)
	require.Positive(t, summary.Overlaps[0].Step)
	require.Positive(t, summary.Faces)
	for _, name := range []string{"joined.stl", "overlaps.csv", "pieces.csv"} {
		a, err := os.ReadFile(filepath.Join(dir, "one", name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(dir, "two", name))
		require.NoError(t, err)
		require.Equal(t, a, b, name)
	}
	overlaps := table(t, filepath.Join(dir, "one", "overlaps.csv"))
	require.Len(t, overlaps, 1)
	require.Equal(t, "left.stl", overlaps[0]["piece_a"])
	require.Equal(t, "same shape", overlaps[0]["shape"])
	require.NotEmpty(t, overlaps[0]["step_most_mm"])
	pieces := table(t, filepath.Join(dir, "one", "pieces.csv"))
	require.Equal(t, "stays", pieces[0]["stays"])
	require.Empty(t, pieces[0]["U_tx_mm"])
	require.NotEmpty(t, pieces[1]["U_tx_mm"])
	require.Len(t, pieces[1]["sha256"], 64)

	r = shutcheck(append(args, "--out", filepath.Join(dir, "one", "joined.stl"))...)
	require.Equal(t, 74, r.status)
	require.Contains(t, r.errors, "--replace")
}

// What cannot be joined is said in a sentence with its number, and nothing is written.
func TestJoinRefuses(t *testing.T) {
	dir := t.TempDir()
	paths := doorPieces(t, dir)
	copied := filepath.Join(dir, "copy.stl")
	data, err := os.ReadFile(paths[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(copied, data, 0o600))
	away := geom.Identity()
	away.T.X = 3000
	far := filepath.Join(dir, "far.stl")
	stl(t, far, bodywork.SpherePatch(300, 0.5, 5).Moved(away))
	markers := func(name string, lines ...string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte("marker,piece,x_mm,y_mm,z_mm\n"+strings.Join(lines, "\n")+"\n"), 0o600))
		return path
	}
	good := markers("good.csv", "A,left,0,0,0", "A,right,0,0,0")
	require.FileExists(t, good)
	for _, bad := range []struct {
		args   []string
		says   string
		status int
	}{
		{[]string{paths[0], copied}, "it holds the same bytes as", 65},
		{[]string{paths[0], far}, "overlaps none of the other pieces", 65},
		{[]string{paths[0], filepath.Join(dir, "none.stl")}, "none.stl", 66},
		{[]string{paths[0], paths[1], "--markers", markers("a.csv", "A,middle,1,2,3")}, `line 2: marker "A" is on "middle", which is none of the pieces`, 65},
		{[]string{paths[0], paths[1], "--markers", markers("b.csv", "A,reference,1,2,3")}, "none is named; add --reference", 65},
		{[]string{paths[0], paths[1], "--markers", markers("c.csv", "A,left,1,x,3")}, `y_mm of marker "A" is "x"`, 65},
		{[]string{paths[0], paths[1], "--markers", markers("d.csv",
			"A,left,0,0,0", "A,right,0,0,0", "B,left,500,0,0", "B,right,500,0,0", "C,left,0,300,0", "C,right,0,300,0", "D,left,500,300,0", "D,right,500,300,0",
			"E,left,250,150,100", "E,right,250,150,107")}, `marker "E" contradicts the others`, 65},
		{[]string{paths[0], paths[1], "--markers", markers("e.csv", // two names exchanged among four: none of them is the one to blame
			"A,left,0,0,0", "B,right,0,0,0", "B,left,500,0,0", "A,right,500,0,0", "C,left,10,300,0", "C,right,10,300,0", "D,left,400,250,0", "D,right,400,250,0")},
			"and whether two have exchanged names", 65},
		{[]string{paths[0], paths[1], "--markers", filepath.Join(dir, "none.csv")}, "none.csv", 66},
	} {
		out := filepath.Join(dir, "out", "joined.stl")
		r := shutcheck(append(append([]string{"join", "--units", "mm"}, bad.args...), "--out", out)...)
		require.Equal(t, bad.status, r.status, r.errors)
		require.Contains(t, strings.Join(strings.Fields(r.errors), " "), bad.says)
		require.NoDirExists(t, filepath.Join(dir, "out"))
	}
}

// An inspection may name pieces in place of the scan: they are joined, inspected as one, and their tables stand among the results.
func TestInspectPieces(t *testing.T) {
	dir := t.TempDir()
	doorPieces(t, dir)
	job := filepath.Join(dir, "job.toml")
	require.NoError(t, os.WriteFile(job, []byte("[[piece]]\nfile = \"left.stl\"\nunits = \"mm\"\n[[piece]]\nfile = \"right.stl\"\nunits = \"mm\"\n[[length]]\nfrom = [10, 200, 0]\nto = [890, 200, 0]\n"), 0o600))
	r := shutcheck("inspect", job, "--out", filepath.Join(dir, "out"), "--threads", "2")
	require.Equal(t, 0, r.status, r.errors)
	require.Contains(t, r.out, "2 pieces laid together, overlaps: 1")
	require.Len(t, table(t, filepath.Join(dir, "out", "overlaps.csv")), 1)
	require.Len(t, table(t, filepath.Join(dir, "out", "pieces.csv")), 2)
	data, err := os.ReadFile(filepath.Join(dir, "out", "results.json"))
	require.NoError(t, err)
	var results struct {
		Pieces struct {
			Overlaps []struct {
				Shape string `json:"shape"`
			} `json:"overlaps"`
		} `json:"pieces"`
	}
	require.NoError(t, json.Unmarshal(data, &results))
	require.Equal(t, "same shape", results.Pieces.Overlaps[0].Shape)
}

// Not even --replace writes over what is joined, whatever it is called.
func TestJoinKeepsItsInputs(t *testing.T) {
	dir := t.TempDir()
	paths := doorPieces(t, dir)
	before, err := os.ReadFile(paths[0])
	require.NoError(t, err)
	markers := filepath.Join(dir, "markers.csv")
	require.NoError(t, os.WriteFile(markers, []byte("marker,piece,x_mm,y_mm,z_mm\n"), 0o600))
	for name, args := range map[string][]string{
		"left.stl":    {"join", paths[0], paths[1], "--units", "mm", "--replace", "--out", filepath.Join(dir, ".", "left.stl")},
		"markers.csv": {"join", paths[0], paths[1], "--units", "mm", "--replace", "--markers", markers, "--out", filepath.Join(dir, "van.stl")},
	} {
		r := shutcheck(args...)
		require.Equal(t, 74, r.status, "%s", r.errors)
		require.Contains(t, r.errors, name)
		require.Contains(t, r.errors, "is not written over")
	}
	after, err := os.ReadFile(paths[0])
	require.NoError(t, err)
	require.Equal(t, before, after)
}
