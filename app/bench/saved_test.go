package bench_test

import (
	"context"
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
	queue := make(chan func(), 10000)
	b := bench.New(bench.Production(), func(f func()) { queue <- f })
	var faults []error
	b.Report = func(err error) { faults = append(faults, err) }
	settle := func() {
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
	require.Empty(t, faults)
	text, err := os.ReadFile(saved)
	require.NoError(t, err)
	require.Contains(t, string(text), `title = "scan"`)
	require.NotContains(t, string(text), `units = "mm"`, "units that nobody stated stay judged")
	require.Contains(t, string(text), "[758.03, 16.13, 389.0]")

	require.True(t, b.Complete())
	b.WriteEvidence(filepath.Join(dir, "window"), false, func(string, error) {})
	settle()
	job, err := inspection.Read(saved)
	require.NoError(t, err)
	outcome, err := app.Inspect(ctx, job, app.Settings{}, nil)
	require.NoError(t, err)
	require.NoError(t, app.Write(ctx, outcome, filepath.Join(dir, "headless"), app.WriteOptions{}, nil))
	entries, err := os.ReadDir(filepath.Join(dir, "headless"))
	require.NoError(t, err)
	require.Greater(t, len(entries), 8)
	for _, e := range entries {
		if e.Name() == "run.json" { // times go there
			continue
		}
		want, err := os.ReadFile(filepath.Join(dir, "headless", e.Name()))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(dir, "window", e.Name()))
		require.NoError(t, err)
		require.Equal(t, len(want), len(got), e.Name())
		require.True(t, string(want) == string(got), "%s differs", e.Name())
	}
}
