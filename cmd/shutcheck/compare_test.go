package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
)

// repaired writes a second job of the van beside a first: the same part as drawn, from another scan.
func repaired(t *testing.T, dir, head string, size int) string {
	t.Helper()
	j, err := bodywork.Van(context.Background(), bodywork.Options{Size: size, Seed: 5, Perfect: true, Threads: 2}, nil)
	require.NoError(t, err)
	stl(t, filepath.Join(dir, "after.stl"), j.Scan)
	path := filepath.Join(dir, "after.toml")
	text := strings.Replace(strings.Replace(head, "scan.stl", "after.stl", 1), "Left wing", "Left wing, repaired", 1)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// The van's wing stands up to 2 mm off and has a dent; the repaired one is as
// drawn. The changes found are those of the generator, the same bytes for any number of threads.
func TestCompareFindsTheRepair(t *testing.T) {
	// Points 5 mm apart: scans of the smallest size cut across the character line.
	const size = 150_000
	j, err := bodywork.Van(context.Background(), bodywork.Options{Size: size, Seed: 1, Threads: 2}, nil)
	require.NoError(t, err)
	const head = jobHead + "[[seam]]\nfind = true\n" +
		"[[point]]\nname = \"corner\"\nat = [760, 60, 860]\ntolerance = [-0.4, 0.4]\n[[point]]\nname = \"door\"\nat = [1200, 10, 400]\ntolerance = [-0.4, 0.4]\n"
	dir := job(t, head)
	stl(t, filepath.Join(dir, "scan.stl"), j.Scan)
	stl(t, filepath.Join(dir, "reference.stl"), j.Reference)
	before, after := filepath.Join(dir, "job.toml"), repaired(t, dir, head, size)
	one, two := filepath.Join(dir, "1"), filepath.Join(dir, "2")
	r := shutcheck("compare", before, after, "--out", one, "--threads", "1")
	require.Equal(t, 0, r.status, r.errors)
	require.Empty(t, r.errors)
	require.Contains(t, r.out, "places on the surface have changed")
	said := strings.Join(strings.Fields(r.out), " ")
	require.Contains(t, said, "prouder than before")
	require.Contains(t, said, "lower than before")
	require.Equal(t, []string{"changes.csv", "difference-left.png", "difference-three-quarter.png", "difference.csv", "point-changes.csv", "results.json", "run.json", "station-changes.csv"}, files(t, one))
	r = shutcheck("compare", before, after, "--out", two, "--threads", "2", "--json")
	require.Equal(t, 0, r.status, r.errors)
	for _, name := range files(t, one) {
		if name != "run.json" {
			a, err := os.ReadFile(filepath.Join(one, name))
			require.NoError(t, err)
			b, err := os.ReadFile(filepath.Join(two, name))
			require.NoError(t, err)
			require.True(t, string(a) == string(b), name)
		}
	}
	var got struct {
		Kind    string `json:"kind"`
		Surface struct {
			Changed float64 `json:"share_changed"`
			Regions []struct {
				Peak  float64    `json:"peak_mm"`
				Point [3]float64 `json:"point_mm"`
			} `json:"regions"`
		} `json:"surface"`
		Stations struct {
			Compared, Changed int
			Expected          float64 `json:"expected_by_chance"`
			P                 float64 `json:"probability_by_chance"`
		} `json:"stations"`
	}
	require.NoError(t, json.Unmarshal([]byte(r.out), &got))
	points, err := os.ReadFile(filepath.Join(one, "point-changes.csv"))
	require.NoError(t, err)
	rows := strings.Split(strings.TrimSpace(string(points)), "\r\n")
	require.Len(t, rows, 3)
	require.Contains(t, rows[1], ",changed,", "the wing was twisted there: %s", rows[1])
	require.Contains(t, rows[2], ",not changed,", "the door is as it was: %s", rows[2])
	require.Contains(t, said, "1 of 2 named points have changed")
	stations, err := os.ReadFile(filepath.Join(one, "station-changes.csv"))
	require.NoError(t, err)
	require.Greater(t, strings.Count(string(stations), "\n"), 50, "found seams are laid alike for both")
	// The wing's seam has changed by more than chance explains; the door's other one has not.
	require.Regexp(t, `Seams: \d+ of \d+ gaps and flushes differ by more than their U\. Of \d+ about \d\.\d would leave their U by chance where nothing has changed; \d+ do, more than chance explains \(it gives as many in under 0\.1 % of cases`, said)
	require.Regexp(t, `left upright at x 1620: 36 stations of both results side by side\. Gap: changed at \d stations.* Of \d+ about \d\.\d would leave their U by chance where nothing has changed; (none does|\d does?, which chance alone explains)`, said)
	require.Equal(t, "comparison", got.Kind)
	require.InDelta(t, 0.05*float64(got.Stations.Compared), got.Stations.Expected, 1e-6)
	require.Less(t, got.Stations.P, 0.001)
	require.NotEmpty(t, got.Surface.Regions)
	for _, region := range got.Surface.Regions {
		require.Less(t, region.Point[0], 820.0, "only the wing was replaced")
	}
	// The same comparison may be written again, another one may not.
	require.Equal(t, 0, shutcheck("compare", before, after, "--out", one).status)
	require.Equal(t, 74, shutcheck("compare", after, before, "--out", one).status)
}

func TestCompareRefusesWhatCannotBeCompared(t *testing.T) {
	dir := job(t, jobHead)
	before, after := filepath.Join(dir, "job.toml"), repaired(t, dir, jobHead, 20_000)
	other := filepath.Join(dir, "other.toml")
	stl(t, filepath.Join(dir, "other.stl"), plate(300))
	write := func(text string) { require.NoError(t, os.WriteFile(other, []byte(text), 0o600)) }
	out := filepath.Join(dir, "r")
	for _, c := range []struct {
		name, text string
		args       []string
		status     int
		says       string
	}{
		{"another reference", strings.Replace(strings.Replace(jobHead, "scan.stl", "after.stl", 1), "reference.stl", "other.stl", 1), []string{before, other}, 65, "is another file than that of"},
		{"no reference", "[scan]\nfile = \"after.stl\"\n", []string{before, other}, 65, "has no [reference]"},
		{"mirrored", strings.Replace(jobHead, "scan.stl", "after.stl", 1) + "mirror = \"y\"\n", []string{before, other}, 65, "write the same in both"},
		{"the same scan", jobHead, []string{before, other}, 65, "nothing can have changed"},
		{"one file", "", []string{before}, 64, "name two inspection files"},
		{"no folder", "", []string{before, after, "--out"}, 64, "--out"},
		{"limit", "", []string{before, after, "--limit", "-1"}, 64, "--limit must be a number of mm over 0"},
		{"limit that is none", "", []string{before, after, "--limit", "NaN"}, 64, "--limit must be a number of mm over 0"},
		{"missing", "", []string{before, filepath.Join(dir, "none.toml")}, 66, "no such file"},
	} {
		write(c.text)
		args := append([]string{"compare"}, c.args...)
		if c.name != "no folder" {
			args = append(args, "--out", out)
		}
		r := shutcheck(args...)
		require.Equal(t, c.status, r.status, "%s: %s", c.name, r.errors)
		require.Contains(t, r.errors, c.says, c.name)
		require.NoDirExists(t, out)
	}
}

// A seam that cannot be traced leaves the rest compared, and the status says that not everything was.
func TestCompareGoesOnWithoutASeam(t *testing.T) {
	const head = jobHead + "[surface]\nviews = []\n[[seam]]\nname = \"nowhere\"\npath = [[0, 0, 0], [0, -900, 700]]\ntrace = true\n"
	dir := job(t, head)
	j, err := bodywork.Van(context.Background(), bodywork.Options{Size: 20_000, Seed: 1, Threads: 2}, nil)
	require.NoError(t, err)
	stl(t, filepath.Join(dir, "scan.stl"), j.Scan)
	stl(t, filepath.Join(dir, "reference.stl"), j.Reference)
	after, out := repaired(t, dir, head, 20_000), filepath.Join(dir, "r")
	r := shutcheck("compare", filepath.Join(dir, "job.toml"), after, "--out", out)
	require.Equal(t, 65, r.status, r.errors)
	require.Regexp(t, `job\.toml: line \d+: seam "nowhere": not compared, because point \d of its path, .* lies \d+ mm from the reference; put it on the gap: .*; everything else was compared and is written\n`, r.errors)
	require.Contains(t, strings.Join(strings.Fields(r.out), " "), "Seam: nowhere: Not compared: it could not be laid on the first: point ")
	require.FileExists(t, filepath.Join(out, "results.json"))
}
