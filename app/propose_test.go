package app_test

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/demo"
	"shutline/app/inspection"
	"shutline/deviation/seamfind"
	"shutline/mesh/geom"
)

// The demo's van side has two shut lines by its formula: wing to door and door to
// quarter. What is proposed are those that the job does not measure yet.
func TestShutLinesAreProposedOnce(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Size: 60_000, Seed: 3}, nil))
	job, err := inspection.Read(filepath.Join(dir, demo.InspectionFile))
	require.NoError(t, err)
	typed := job.Seams
	require.Len(t, typed, 2)
	parts, err := app.LoadParts(ctx, job, app.Settings{}, nil)
	require.NoError(t, err)
	placed, err := app.Place(ctx, job, parts, app.Settings{}, nil)
	require.NoError(t, err)

	likely := func(seams int) (list []app.SeamPath) {
		job.Seams = typed[:seams]
		all, err := app.FindSeams(ctx, job, parts, placed, app.Settings{}, nil)
		require.NoError(t, err)
		for _, s := range all {
			require.NotEmpty(t, s.Seam)
			if s.Sure >= seamfind.LikelyFrom {
				list = append(list, s)
			}
		}
		return list
	}
	both := likely(0)
	require.Len(t, both, 2)
	for k, s := range both {
		for _, p := range typed[k].Path {
			_, off := geom.NearestOnPath(p, s.Path)
			require.Less(t, off, 1.0, "%s runs along %s", s.Seam, typed[k].Name)
		}
	}
	require.Len(t, likely(1), 1, "what the job measures is not proposed again")
	require.Empty(t, likely(2))

	stopped, stop := context.WithCancel(ctx)
	stop()
	_, err = app.FindSeams(stopped, job, parts, placed, app.Settings{}, nil)
	require.ErrorIs(t, err, context.Canceled)
}
