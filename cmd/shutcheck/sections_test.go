package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// The demo's wing has a dent 2.5 mm deep at (560, 380) by its formula, twisted and too long
// besides: the section through it is lowest there, by 2.5 mm within the twist's part and the noise.
func TestASectionThroughTheDent(t *testing.T) {
	dir := t.TempDir()
	job := filepath.Join(dir, "job")
	require.Zero(t, shutcheck("demo", "--size", "40000", "--out", job).status)
	head := "[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n[reference]\nfile = \"reference.stl\"\nunits = \"mm\"\n[surface]\nviews = []\n"
	file := filepath.Join(job, "sections.toml")
	require.NoError(t, os.WriteFile(file, []byte(head+"[[section]]\nname = \"Dent\"\npoint = [560, 30, 380]\nnormal = [1, 0, 0]\n"+
		"[[section]]\nname = \"row\"\naxis = \"z\"\nfrom = 300\nto = 400\nevery = 100\n"), 0o666))
	r := shutcheck("inspect", file, "--out", filepath.Join(dir, "out"))
	require.Zero(t, r.status, r.errors)
	require.Contains(t, r.out, "Sections: 3 cut.")
	names := files(t, filepath.Join(dir, "out"))
	for _, name := range []string{"section-dent.csv", "section-dent.png", "section-row-z-300.csv", "section-row-z-300.png", "section-row-z-400.png"} {
		require.Contains(t, names, name)
	}
	f, err := os.Open(filepath.Join(dir, "out", "section-dent.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"curve", "line", "point", "across_mm", "up_mm", "x_mm", "y_mm", "z_mm", "deviation_mm", "state"}, rows[0])
	lowest, at := math.Inf(1), 0.0
	curves := map[string]int{}
	for _, row := range rows[1:] {
		curves[row[0]]++
		x, err := strconv.ParseFloat(row[5], 64)
		require.NoError(t, err)
		require.InDelta(t, 560, x, 1e-4, "every place lies in the plane")
		if row[8] == "" {
			continue
		}
		require.Equal(t, "measured", row[9])
		d, err := strconv.ParseFloat(row[8], 64)
		require.NoError(t, err)
		if d < lowest {
			lowest = d
			at, err = strconv.ParseFloat(row[7], 64)
			require.NoError(t, err)
		}
	}
	require.Greater(t, curves["scan"], 50)
	require.Greater(t, curves["reference"], 10)
	require.InDelta(t, -2.5, lowest, 0.3)
	require.InDelta(t, 380, at, 25)

	// Written again over itself with other threads: the same bytes.
	before, err := os.ReadFile(filepath.Join(dir, "out", "section-dent.csv"))
	require.NoError(t, err)
	require.Zero(t, shutcheck("inspect", file, "--out", filepath.Join(dir, "one"), "--threads", "1").status)
	after, err := os.ReadFile(filepath.Join(dir, "one", "section-dent.csv"))
	require.NoError(t, err)
	require.Equal(t, string(before), string(after))

	// Where a row runs past the part, those sections say so and the others are there; read-outs stand in a table of their own.
	require.NoError(t, os.WriteFile(file, []byte(head+"[[section]]\nname = \"row\"\naxis = \"x\"\nfrom = -5000\nto = 560\nevery = 5560\n"+
		"radius = [ { name = \"=dent, rim\", at = [560, 30, 380], within = 5 }, { name = \"off\", at = [560, 300, 380] } ]\n"), 0o666))
	r = shutcheck("inspect", file, "--out", filepath.Join(dir, "row"))
	require.Zero(t, r.status, r.errors)
	require.Contains(t, r.out, "Sections: 1 of 2 cut; 4 of 4 read-outs have no value.")
	require.Contains(t, r.out, "Verdict: reported, not judged\nOf 4 read-outs of sections 4 have no value; why is said above.\n", "none of them changes the status")
	require.Contains(t, r.out, "row x -5000: no section here, because the plane does not meet the scan, which lies from")
	names = files(t, filepath.Join(dir, "row"))
	require.Contains(t, names, "section-row-x-560.png")
	require.NotContains(t, names, "section-row-x--5000.png")
	g, err := os.Open(filepath.Join(dir, "row", "sections.csv"))
	require.NoError(t, err)
	defer g.Close()
	table, err := csv.NewReader(g).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"section", "read_out", "kind", "value", "U", "unit", "reference", "difference", "state", "why", "k", "reference_U", "reference_why"}, table[0])
	require.Equal(t, []string{"row x -5000", "", "section", "", "", "", "", "", "no-section"}, table[1][:9])
	require.Contains(t, table[1][9], "does not meet the scan")
	require.Equal(t, []string{"row x -5000", "'=dent, rim", "radius", "", "", "mm", "", "", "not-read", "there is no section", "", "", ""}, table[2])
	require.Equal(t, "row x 560", table[5][0])
	require.Contains(t, table[5][9], "mm from the nearest place of the curve")
	deviations := map[string]string{}
	for _, row := range table[6:] {
		require.Equal(t, "deviation", row[2])
		deviations[row[1]] = row[3]
	}
	require.Len(t, deviations, 5)
	deepest, err := strconv.ParseFloat(deviations["lowest"], 64)
	require.NoError(t, err)
	require.InDelta(t, lowest, deepest, 1e-9, "the same as in the curve's own table")

	require.NoError(t, os.WriteFile(file, []byte(head+"[[section]]\nname = \"beside\"\npoint = [9000, 0, 0]\nnormal = [1, 0, 0]\n"), 0o666))
	r = shutcheck("inspect", file, "--out", filepath.Join(dir, "none"))
	require.Equal(t, 65, r.status)
	require.Contains(t, r.errors, `line 9: section "beside": no value, because the plane does not meet the scan, which lies from`)
	require.FileExists(t, filepath.Join(dir, "none", "surface.csv"), "everything else is written")

	// A row that lies beside the scan whole has no value, as a seam that cannot be laid; the others have theirs. What does not
	// conform beside it is told by the status, what was not measured by the message and the summary.
	const row = "[[section]]\nname = \"row\"\naxis = \"x\"\nfrom = 5000\nto = 5200\nevery = 100\n"
	const dent = "[[section]]\nname = \"Dent\"\npoint = [560, 30, 380]\nnormal = [1, 0, 0]\n"
	const why = `no value, because none of its 3 planes meets the scan; of the first: the plane does not meet the scan, which lies from`
	for _, c := range []struct {
		name, more string
		status     int
		says       string
	}{
		{"row", "", 65, "everything else was measured and is written\n"},
		{"fails", "[[point]]\nname = \"A\"\nat = [559, 33, 375]\ntolerance = [-0.5, 0.5]\n", 3, "everything else was measured and is written, and of that something does not conform\n"},
	} {
		require.NoError(t, os.WriteFile(file, []byte(head+dent+row+c.more), 0o666))
		out := filepath.Join(dir, "lost-"+c.name)
		r = shutcheck("inspect", file, "--out", out)
		require.Equal(t, c.status, r.status, r.errors)
		require.Contains(t, r.errors, `sections.toml: line 13: section "row": `+why)
		require.Regexp(t, `at x = \d+\.\d to \d+\.\d mm; change from and to; `, r.errors)
		require.Contains(t, r.errors, c.says)
		require.Contains(t, r.out, "Sections: 1 of 4 cut.")
		require.Contains(t, r.out, "Not measured, so without a value: section row; why is said above.")
		require.FileExists(t, filepath.Join(out, "section-dent.png"))
		times, err := os.ReadFile(filepath.Join(out, "run.json"))
		require.NoError(t, err)
		require.Contains(t, string(times), `"section": "row"`)
		require.Contains(t, string(times), why)
		list, err := os.ReadFile(filepath.Join(out, "sections.csv"))
		require.NoError(t, err)
		require.Contains(t, string(list), "row x 5100,,section,,,,,,no-section,\"the plane does not meet the scan")
	}
}
