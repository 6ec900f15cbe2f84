package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/inspection"
)

func TestDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	got := shutcheck("demo", "--out", dir, "--size", "20000", "--seed", "3")
	require.Zero(t, got.status, got.errors)
	require.Contains(t, got.out, "Next: shutcheck inspect")
	i, err := inspection.Read(filepath.Join(dir, "inspection.toml"))
	require.NoError(t, err)
	require.NotEmpty(t, i.Seams)
	require.FileExists(t, i.Scan.File)
	require.FileExists(t, i.Reference.File)

	got = shutcheck("demo", "--out", dir, "--size", "20000")
	require.Equal(t, 74, got.status)
	require.Contains(t, got.errors, "--replace")
	require.Contains(t, got.errors, "go on with `shutcheck inspect")
	other := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(other, "x"), nil, 0o600))
	require.Contains(t, shutcheck("demo", "--out", other, "--size", "20000").errors, "the folder is not empty")
	require.Zero(t, shutcheck("demo", "--out", dir, "--size", "20000", "--replace", "--json").status)
	require.Equal(t, 64, shutcheck("demo", "--out", dir, "--size", "3").status)
	require.Equal(t, 64, shutcheck("demo", "--out", dir, "--seed", "-3").status)
	require.Equal(t, 64, shutcheck("demo", "x", "--out", dir).status)

	file := filepath.Join(t.TempDir(), "f")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	require.Equal(t, 74, shutcheck("demo", "--out", file).status)
}

func TestDemoScans(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "scans")
	got := shutcheck("demo", "--scans", "--out", dir, "--size", "20000")
	require.Zero(t, got.status, got.errors)
	require.Contains(t, got.out, "truth-scans.json")
	for _, name := range demo.ScanNames() {
		_, err := inspection.Read(filepath.Join(dir, name+".toml"))
		require.NoError(t, err, name)
	}
	// The truth of the file: the poor scanner's end lies 27.5 times as far off as the good one's, up to the turn.
	data, err := os.ReadFile(filepath.Join(dir, demo.TruthScansFile))
	require.NoError(t, err)
	var truth []struct {
		Scan     string `json:"scan"`
		Closures []struct {
			Size float64 `json:"displacement_mm"`
		} `json:"closures"`
		Overlaps []struct{ A, B string } `json:"overlaps"`
	}
	require.NoError(t, json.Unmarshal(data, &truth))
	require.Len(t, truth, 5)
	require.InDelta(t, 8.7, truth[0].Closures[0].Size, 0.3)
	require.Less(t, truth[1].Closures[0].Size, 0.3)
	require.InDelta(t, 27.5, truth[2].Closures[0].Size/truth[0].Closures[0].Size, 3)
	require.GreaterOrEqual(t, len(truth[3].Overlaps), 6)
}
