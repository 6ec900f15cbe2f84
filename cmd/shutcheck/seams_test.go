package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
)

func TestSeamsWritesAnInspectionThatRuns(t *testing.T) {
	dir := t.TempDir()
	job := filepath.Join(dir, "job")
	r := shutcheck("demo", "--size", "40000", "--out", job)
	require.Zero(t, r.status, r.errors)

	r = shutcheck("seams", "--drawing", filepath.Join(job, "reference.stl"))
	require.Zero(t, r.status, r.errors)
	require.Contains(t, r.out, "# Shut lines found: 2\n#   left upright at x 760: ")
	i, err := inspection.Decode([]byte(r.out), filepath.Join(job, "found.toml"))
	require.NoError(t, err)
	require.Len(t, i.Seams, 2)
	require.Equal(t, "left upright at x 1620", i.Seams[1].Name)

	// The same by the inspection file alone, and again from the paths it wrote down.
	file := filepath.Join(job, "find.toml")
	head := "[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n[reference]\nfile = \"reference.stl\"\nunits = \"mm\"\n[surface]\nviews = []\n"
	require.NoError(t, os.WriteFile(file, []byte(head+"[[seam]]\nfind = true\npictures = \"none\"\n"), 0o666))
	r = shutcheck("inspect", file, "--out", filepath.Join(dir, "out"))
	require.Zero(t, r.status, r.errors)
	paths, err := os.ReadFile(filepath.Join(dir, "out", "paths.csv"))
	require.NoError(t, err)
	require.Contains(t, string(paths), "seam,point,x_mm,y_mm,z_mm,laid\r\nleft upright at x 760,1,")
	data, err := os.ReadFile(filepath.Join(dir, "out", "results.json"))
	require.NoError(t, err)
	var results struct {
		Paths []struct {
			Seam, Laid string
			HowSure    string      `json:"how_sure"`
			Points     [][]float64 `json:"points"`
		}
		Seams []struct {
			Name     string
			Stations []json.RawMessage
		}
	}
	require.NoError(t, json.Unmarshal(data, &results))
	require.Len(t, results.Paths, 2)
	require.Equal(t, "found", results.Paths[0].Laid)
	require.Equal(t, "sure", results.Paths[0].HowSure)
	require.Len(t, results.Seams, 2)

	typed := head
	for k, p := range results.Paths {
		points, err := json.Marshal(p.Points)
		require.NoError(t, err)
		typed += "[[seam]]\npictures = \"none\"\nname = \"" + results.Seams[k].Name + "\"\npath = " + string(points) + "\n"
	}
	again := filepath.Join(job, "again.toml")
	require.NoError(t, os.WriteFile(again, []byte(typed), 0o666))
	r = shutcheck("inspect", again, "--out", filepath.Join(dir, "again"))
	require.Zero(t, r.status, r.errors)
	for _, table := range []string{"stations.csv", "seams.csv"} {
		a, err := os.ReadFile(filepath.Join(dir, "out", table))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(dir, "again", table))
		require.NoError(t, err)
		require.Equal(t, string(a), string(b), table)
	}
}

func TestSeamsSaysWhatItCannotUse(t *testing.T) {
	r := shutcheck("seams")
	require.Equal(t, 64, r.status)
	require.Contains(t, r.errors, "shutcheck seams MESH")
	r = shutcheck("seams", "a.stl", "b.stl")
	require.Equal(t, 64, r.status)
	require.Contains(t, r.errors, "one mesh file, not 2")
	r = shutcheck("seams", filepath.Join(t.TempDir(), "none.stl"))
	require.Equal(t, 66, r.status)
	require.NotEmpty(t, r.errors)

	// 200 mm or 2 m (200 cm): the size does not tell.
	small := filepath.Join(t.TempDir(), "small.stl")
	stl(t, small, plate(200))
	r = shutcheck("seams", small)
	require.Equal(t, 65, r.status)
	require.Contains(t, r.errors, "the unit cannot be told")
	require.Contains(t, r.errors, "here it is --units UNIT")
	r = shutcheck("seams", "--units", "mm", small)
	require.Zero(t, r.status, r.errors)
	require.Contains(t, r.out, `units = "mm"`)
	r = shutcheck("seams", "--units", "ft", small)
	require.Equal(t, 64, r.status)
	require.Contains(t, r.errors, "write mm, cm, m or in")
}

// A seam that cannot be traced leaves the others their numbers; the status says that not everything was measured.
func TestASeamThatCannotBeTracedStopsNothingElse(t *testing.T) {
	dir := t.TempDir()
	job := filepath.Join(dir, "job")
	r := shutcheck("demo", "--size", "40000", "--out", job)
	require.Zero(t, r.status, r.errors)
	file := filepath.Join(job, "trace.toml")
	text := "[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n[reference]\nfile = \"reference.stl\"\nunits = \"mm\"\n[surface]\nviews = []\n" +
		"[[seam]]\nname = \"hood\"\npath = [[1200, 0, 200], [1200, 0, 700]]\ntrace = true\nparallel = 1.0\n" +
		"[[seam]]\nname = \"door\"\npath = [[1650.81, 42.18, 25.00], [1625.31, 52.72, 875.00]]\ntrace = true\npictures = \"none\"\n" +
		"gap = { nominal_from = \"hood\", tolerance = [-1, 1] }\n"
	require.NoError(t, os.WriteFile(file, []byte(text), 0o666))
	out := filepath.Join(dir, "out")
	r = shutcheck("inspect", file, "--out", out)
	require.Equal(t, 65, r.status)
	const why = "no value, because between (1200.0, 0.0, 200.0) and (1200.0, 0.0, 700.0) the surface runs on without a gap on "
	require.Contains(t, r.errors, `trace.toml: line 9: seam "hood": `+why)
	require.Contains(t, r.errors, "put both on the same gap, or write the whole path and leave trace out; everything else was measured and is written\n")
	said := strings.Join(strings.Fields(r.out), " ")
	require.Contains(t, said, "Seam: hood: This seam was not measured. No value, because between (1200.0, 0.0, 200.0)")
	require.Contains(t, said, "hood, parallelism: no value (allowed: at most 1.00 mm), because the seam was not measured, as it could not be laid: undecided.")
	require.Contains(t, said, `Its gap has no nominal from another seam, so that of the reference holds: seam "hood" was not measured, as it could not be laid.`)
	require.NotContains(t, said, "door: no path")
	seams, err := os.ReadFile(filepath.Join(out, "seams.csv"))
	require.NoError(t, err)
	require.Contains(t, string(seams), "\r\nhood,0,0,,,,,,,,,undecided,0,0,,,,,,,,2,,\""+why)
	require.Regexp(t, `\r\ndoor,34,\d+,4\.`, string(seams))
	paths, err := os.ReadFile(filepath.Join(out, "paths.csv"))
	require.NoError(t, err)
	require.NotContains(t, string(paths), "hood")
	require.FileExists(t, filepath.Join(out, "seam-hood.png"))

	r = shutcheck("inspect", file, "--out", out, "--json")
	require.Equal(t, 65, r.status)
	require.Contains(t, r.out, `"why": "`+why)
	require.Contains(t, r.out, `"verdict": "undecided"`)
}
