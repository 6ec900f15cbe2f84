package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func TestSameBytesForAnyThreadsAndFolder(t *testing.T) {
	first := job(t, jobHead+"[surface]\nshare = 0.9\n")
	second := job(t, jobHead+"[surface]\nshare = 0.9\n")
	a, b := filepath.Join(first, "a"), filepath.Join(second, "deep", "er", "b")
	one := shutcheck("inspect", filepath.Join(first, "job.toml"), "--threads", "1", "--out", a)
	two := shutcheck("--threads=2", "--out="+b, "inspect", filepath.Join(second, "job.toml"))
	require.Equal(t, one.status, two.status, two.errors)
	require.Equal(t, files(t, a), files(t, b))
	require.Contains(t, files(t, a), "heat-left.png")
	for _, name := range files(t, a) {
		if name == "run.json" {
			continue
		}
		x, err := os.ReadFile(filepath.Join(a, name))
		require.NoError(t, err)
		y, err := os.ReadFile(filepath.Join(b, name))
		require.NoError(t, err)
		require.True(t, bytes.Equal(x, y), name)
		require.NotContains(t, string(x), first)
	}
}

func TestJSONIsTheSummary(t *testing.T) {
	dir := job(t, jobHead+placed(t)+"[surface]\nviews = []\n")
	got := shutcheck("inspect", filepath.Join(dir, "job.toml"), "--json", "--out", filepath.Join(dir, "r"))
	require.Zero(t, got.status, got.errors)
	var summary map[string]any
	require.NoError(t, json.Unmarshal([]byte(got.out), &summary))
	require.EqualValues(t, 1, summary["format"])
	require.Nil(t, summary["verdict"])
	require.Len(t, summary["inputs"], 2)
	require.Len(t, summary["cautions"], 3)
	require.NotEmpty(t, summary["defaults"])
}

var digits = regexp.MustCompile(`[−+-]?[0-9][0-9\x{202f}]*(\.[0-9]+)?`)

// The golden holds the summary's shape: every number is a # and lines are joined within a paragraph.
func TestGoldenSummary(t *testing.T) {
	dir := job(t, jobHead+"[surface]\nshare = 0.999\n")
	got := shutcheck("inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "r"))
	require.Equal(t, 3, got.status, got.errors)
	for _, line := range strings.Split(got.out, "\n") {
		if !strings.Contains(line, dir) {
			require.LessOrEqual(t, len([]rune(line)), lineWidth)
		}
	}
	shape := strings.ReplaceAll(got.out, dir, "DIR")
	shape = digits.ReplaceAllString(shape, "#")
	shape = regexp.MustCompile(`\n +([^ -])`).ReplaceAllString(shape, " $1")
	golden := filepath.Join("testdata", "summary.golden")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o777))
		require.NoError(t, os.WriteFile(golden, []byte(shape), 0o666))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), shape)
}

func TestInfo(t *testing.T) {
	dir := job(t, jobHead)
	stl(t, filepath.Join(dir, "plate.stl"), plate(1000))
	stl(t, filepath.Join(dir, "small.stl"), plate(200))
	got := shutcheck("info", filepath.Join(dir, "scan.stl"), filepath.Join(dir, "plate.stl"), filepath.Join(dir, "small.stl"))
	require.Zero(t, got.status, got.errors)
	// A plate of 1000 mm cut into 20 by 20 squares: 441 vertices, 800 triangles, a border of 4 m, edges of 50 mm and their diagonals.
	for _, want := range []string{
		"unit mm, judged from the size; check it", "size 1\u202f000 × 1\u202f000 × 0 mm", "points 441", "triangles 800", "pieces 1: all hangs together",
		"borders 1, outer edges and holes; 4\u202f000 mm in all, the longest 4\u202f000", "spacing 50 mm between neighbouring points (edges of 50 to 70.7)", "faults none found",
		"cannot be told from the size: mm (200 × 200 × 0 mm), cm (2\u202f000", "less so m (200\u202f000",
		"use as scan for gaps and flushes: no: no two points are closer than 50 mm", "3 files: 3 read, 1 of them with faults; 0 cannot be used",
	} {
		require.Contains(t, strings.Join(strings.FieldsFunc(got.out, func(r rune) bool { return r == ' ' || r == '\n' }), " "), want)
	}
	got = shutcheck("info", "--units", "cm", filepath.Join(dir, "small.stl"))
	require.Zero(t, got.status)
	require.Contains(t, got.out, "unit        cm, as stated")
	require.Equal(t, 64, shutcheck("info", "--units", "ft", filepath.Join(dir, "small.stl")).status)
	got = shutcheck("info", dir)
	require.Contains(t, got.out, "small.stl", "a folder stands for its meshes")
	require.NotContains(t, got.out, "job.toml")
	got = shutcheck("--json", "info", filepath.Join(dir, "plate.stl"), filepath.Join(dir, "small.stl"))
	require.Zero(t, got.status)
	var list []map[string]any
	require.NoError(t, json.Unmarshal([]byte(got.out), &list))
	require.Len(t, list, 2)
	require.EqualValues(t, 800, list[0]["faces"])
	require.Nil(t, list[1]["unit"])

	got = shutcheck("info", filepath.Join(dir, "none.stl"), filepath.Join(dir, "job.toml"), filepath.Join(dir, "plate.stl"))
	require.Equal(t, 66, got.status)
	require.Contains(t, got.out, "triangles   800", "the other files are still described")
	require.Contains(t, got.errors, "none.stl")
	require.Contains(t, got.errors, "job.toml")
	got = shutcheck("info", "--json", filepath.Join(dir, "none.stl"), filepath.Join(dir, "plate.stl"))
	require.NoError(t, json.Unmarshal([]byte(got.out), &list))
	require.Len(t, list, 2)
	require.EqualValues(t, 66, list[0]["status"])
	require.Contains(t, list[0]["error"], "there is no such file")
}
