package bench_test

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/demo"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// TestAJobMadeInTheWindowMeasuresTheSameHeadless makes a job of two bare meshes,
// saves it, and compares what the bench writes then with what the headless
// command's stages write from the saved file.
func TestAJobMadeInTheWindowMeasuresTheSameHeadless(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, filepath.Join(dir, "job"), demo.Options{Size: 20_000, Seed: 2}, nil))
	b, settle := realBench(t)
	b.OpenPair(filepath.Join(dir, "job", demo.ScanFile), filepath.Join(dir, "job", demo.ReferenceFile))
	settle()
	b.Edit("new seam", func(i *inspection.Inspection) {
		i.Seams = append(i.Seams, gapflush.DefaultSeam("seam 1", []geom.Vec{{X: 758.03, Y: 16.13, Z: 389}, {X: 758.85, Y: 15.78, Z: 418}, {X: 761.36, Y: 16.05, Z: 481}}))
		i.SeamPictures = append(i.SeamPictures, "none")
		i.Surface.Views = []string{"left"}
	})
	settle()
	saved := filepath.Join(dir, "job", "saved.toml")
	require.NoError(t, b.Save(saved))
	settle()
	text, err := os.ReadFile(saved)
	require.NoError(t, err)
	require.Contains(t, string(text), `title = "scan"`)
	require.NotContains(t, string(text), `units = "mm"`, "units that nobody stated stay judged")
	require.Contains(t, string(text), "[758.03, 16.13, 389.0]")

	require.True(t, b.Complete())
	b.WriteEvidence(filepath.Join(dir, "window"), false, func(string, error) {})
	settle()
	sameHeadless(t, saved, filepath.Join(dir, "window"))

	// The times of the run, which are no part of what is compared, are there too.
	record, err := os.ReadFile(filepath.Join(dir, "window", "run.json"))
	require.NoError(t, err)
	var run struct {
		Started string
		Stages  []struct {
			Stage   string
			Seconds float64
		}
	}
	require.NoError(t, json.Unmarshal(record, &run))
	when, err := time.Parse(time.RFC3339, run.Started)
	require.NoError(t, err)
	require.WithinDuration(t, time.Now(), when, 10*time.Minute)
	var names []string
	for _, s := range run.Stages {
		names = append(names, s.Stage)
		require.GreaterOrEqual(t, s.Seconds, 0.0)
	}
	require.Equal(t, []string{"parts", "place", "surface", "trust", "seams"}, names, string(record))
}

// realBench is a bench on the program's own services, with what waits for its work. Its errors fail the test.
func realBench(t *testing.T) (*bench.Bench, func()) {
	queue := make(chan func(), 10000)
	b := bench.New(bench.Production(), func(f func()) { queue <- f })
	b.Report = func(err error) { require.NoError(t, err) }
	return b, func() {
		t.Helper()
		for {
			if _, _, running := b.Running(); !running {
				return
			}
			select {
			case f := <-queue:
				f()
			case <-time.After(time.Minute):
				require.FailNow(t, "the bench does nothing")
			}
		}
	}
}

// sameHeadless compares what the window wrote with what the headless command's stages write from an inspection file.
func sameHeadless(t *testing.T, file, written string) {
	t.Helper()
	ctx, headless := context.Background(), filepath.Join(t.TempDir(), "headless")
	job, err := inspection.Read(file)
	require.NoError(t, err)
	outcome, err := app.Inspect(ctx, job, app.Settings{}, nil)
	require.NoError(t, err)
	require.NoError(t, app.Write(ctx, outcome, headless, app.WriteOptions{}, nil))
	list := func(dir string) (names []string) {
		entries, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, e := range entries {
			names = append(names, e.Name())
		}
		return names
	}
	require.Greater(t, len(list(headless)), 8)
	require.Equal(t, list(headless), list(written))
	for _, name := range list(headless) {
		if name == "run.json" { // times go there
			continue
		}
		want, err := os.ReadFile(filepath.Join(headless, name))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(written, name))
		require.NoError(t, err)
		require.Equal(t, len(want), len(got), name)
		require.True(t, string(want) == string(got), "%s differs", name)
	}
}
