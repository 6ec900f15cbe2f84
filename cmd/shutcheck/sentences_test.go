package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// truthOf returns the flush and gap of the demo's stations as scanned, by seam
// and station, from the table of the formulas the van is made of.
func truthOf(t *testing.T, dir string) map[string][2]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "truth-stations.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	at := map[string]int{}
	for k, name := range rows[0] {
		at[name] = k
	}
	truth := map[string][2]float64{}
	for _, row := range rows[1:] {
		if row[at["of"]] != "scan" {
			continue
		}
		flush, err := strconv.ParseFloat(row[at["flush_mm"]], 64)
		require.NoError(t, err)
		gap, err := strconv.ParseFloat(row[at["gap_mm"]], 64)
		require.NoError(t, err)
		truth[row[at["seam"]]+" "+row[at["station"]]] = [2]float64{flush, gap}
	}
	return truth
}

var (
	flushMove = regexp.MustCompile(`To be as flush with the door \(side B\) as wanted, the wing \(side A\) must at its lower end \(station (\d+), z = \d+ mm\) come out by ([\d.]+) ± ([\d.]+) mm` +
		` and at its upper end \(station (\d+), z = \d+ mm\) go in by ([\d.]+) ± ([\d.]+) mm\.`)
	gapMove  = regexp.MustCompile(`at its upper end \(station (\d+), z = \d+ mm\) go away from the door \(side B\) by ([\d.]+) ± ([\d.]+) mm\.`)
	steepest = regexp.MustCompile(`the steepest stretch of \d+ mm, \d+ stations from ([\d.]+) to ([\d.]+) mm, has a taper of −([\d.]+) ± ([\d.]+) mm per 100 mm`)
)

// What the sentences say must move is what the truth is off its nominals, within
// U and half of it again: one value in twenty lies outside U.
func TestWhatMustMoveIsTheTruth(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	require.Zero(t, shutcheck("demo", "--out", dir, "--size", "120000").status)
	got := shutcheck("inspect", filepath.Join(dir, "inspection.toml"), "--out", filepath.Join(dir, "results"))
	require.Equal(t, 3, got.status, got.errors)
	said, truth := strings.Join(strings.Fields(got.out), " "), truthOf(t, dir)
	within := func(want float64, value, u string) {
		t.Helper()
		v, err := strconv.ParseFloat(value, 64)
		require.NoError(t, err)
		allowed, err := strconv.ParseFloat(u, 64)
		require.NoError(t, err)
		require.InDelta(t, want, v, 1.5*allowed)
	}
	m := flushMove.FindStringSubmatch(said)
	require.NotNil(t, m, got.out)
	within(-truth["wing to door "+m[1]][0], m[2], m[3])
	within(truth["wing to door "+m[4]][0], m[5], m[6])
	m = gapMove.FindStringSubmatch(said)
	require.NotNil(t, m, got.out)
	within(4-truth["wing to door "+m[1]][1], m[2], m[3])

	// The steepest stretch, by the truth of its two ends: it falls nearly straight there.
	m = steepest.FindStringSubmatch(said)
	require.NotNil(t, m, got.out)
	station := func(along string) string {
		x, err := strconv.ParseFloat(along, 64)
		require.NoError(t, err)
		return strconv.Itoa(int(math.Round(x/25 + 0.5))) // stations are cut every 25 mm, from 12.5 mm on
	}
	from, _ := strconv.ParseFloat(m[1], 64)
	to, _ := strconv.ParseFloat(m[2], 64)
	slope := 100 * (truth["wing to door "+station(m[2])][1] - truth["wing to door "+station(m[1])][1]) / (to - from)
	within(-slope, m[3], m[4])

	require.NotContains(t, said, "..")

	// A straight path leaves the bowed gap, so most stations have no gap; the ends still fail. There is
	// one verdict, also beside the notes of the measurement itself.
	file := filepath.Join(dir, "inspection.toml")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	path := regexp.MustCompile(`(?s)path = \[ *#[^\n]*\n( *\[[^\]]*\]),\n.*?( *\[[^\]]*\]),\n\]`)
	first := path.FindSubmatchIndex(text)
	require.NotNil(t, first)
	straight := string(text[:first[0]]) + "path = [" + string(text[first[2]:first[3]]) + ", " + string(text[first[4]:first[5]]) + "]" + string(text[first[1]:])
	require.NoError(t, os.WriteFile(file, []byte(straight), 0o600))
	got = shutcheck("inspect", file, "--out", filepath.Join(dir, "straight"))
	require.Equal(t, 3, got.status, got.errors)
	said = strings.Join(strings.Fields(got.out), " ")
	wing := said[strings.Index(said, "Seam: wing to door"):strings.Index(said, "Seam: door to quarter")]
	require.Contains(t, wing, "The path is not where the scan has this seam")
	require.Contains(t, wing, "how it runs there is not known")
	require.Contains(t, wing, "Verdict: does not conform.")
	require.NotContains(t, wing, "undecided at best")
	require.NotContains(t, wing, "Nothing to do here")
}
