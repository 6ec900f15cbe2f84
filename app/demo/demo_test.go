package demo_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

var names = []string{demo.ScanFile, demo.ReferenceFile, demo.InspectionFile, demo.TruthFile, demo.TruthSurfaceFile, demo.TruthStationsFile}

func TestWritesTheSameBytesAgain(t *testing.T) {
	one, two := filepath.Join(t.TempDir(), "a"), t.TempDir()
	require.NoError(t, demo.Write(context.Background(), one, demo.Options{Size: bodywork.MinSize, Seed: 3, Threads: 1}, nil))
	require.NoError(t, demo.Write(context.Background(), two, demo.Options{Size: bodywork.MinSize, Seed: 3, Threads: 4}, nil))
	for _, name := range names {
		a, err := os.ReadFile(filepath.Join(one, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(two, name))
		require.NoError(t, err)
		require.NotEmpty(t, a)
		require.True(t, bytes.Equal(a, b), name)
	}
	entries, err := os.ReadDir(two)
	require.NoError(t, err)
	require.Len(t, entries, len(names), "nothing is left beside the files")
}

// The truth of the surface goes by vertex number, so what a reader welds must be the job's scan itself.
func TestReadBackInTheOrderOfTheTruth(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: bodywork.MinSize, Seed: 5}, nil))
	job, err := bodywork.Van(context.Background(), bodywork.Options{Size: bodywork.MinSize, Seed: 5}, nil)
	require.NoError(t, err)
	loaded, err := meshio.Read(context.Background(), filepath.Join(dir, demo.ScanFile), meshio.Options{Unit: meshio.Millimetre})
	require.NoError(t, err)
	require.Equal(t, job.Scan.Vertices, loaded.Mesh.Vertices)
	require.Equal(t, job.Scan.Faces, loaded.Mesh.Faces)
	rows, err := os.ReadFile(filepath.Join(dir, demo.TruthSurfaceFile))
	require.NoError(t, err)
	require.Equal(t, 1+len(loaded.Mesh.Vertices), bytes.Count(rows, []byte("\n")))
}

func TestRefusesAFolderThatHoldsSomething(t *testing.T) {
	dir := t.TempDir()
	other := filepath.Join(dir, "notes.txt")
	require.NoError(t, os.WriteFile(other, []byte("mine"), 0o600))
	err := demo.Write(context.Background(), dir, demo.Options{Size: bodywork.MinSize}, nil)
	require.ErrorIs(t, err, demo.ErrNotEmpty)
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: bodywork.MinSize, Replace: true}, nil))
	kept, err := os.ReadFile(other)
	require.NoError(t, err)
	require.Equal(t, "mine", string(kept))
}

func TestStopLeavesNothingBehind(t *testing.T) {
	above := t.TempDir()
	there := filepath.Join(above, "there")
	require.NoError(t, os.Mkdir(there, 0o777))
	for _, dir := range []string{there, filepath.Join(above, "new")} {
		ctx, stop := context.WithCancel(context.Background())
		err := demo.Write(ctx, dir, demo.Options{Size: bodywork.MinSize}, func(share float64) {
			if share > 0.75 {
				stop()
			}
		})
		require.ErrorIs(t, err, context.Canceled)
	}
	entries, err := os.ReadDir(there)
	require.NoError(t, err)
	require.Empty(t, entries)
	require.NoDirExists(t, filepath.Join(above, "new"))
}
