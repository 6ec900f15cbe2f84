package app_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/demo"
	"shutline/app/inspection"
)

func TestASwappedMeshIsSaid(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Size: 20_000, Seed: 1}, nil))
	job, err := inspection.Read(filepath.Join(dir, demo.InspectionFile))
	require.NoError(t, err)
	parts, err := app.LoadParts(ctx, job, app.Settings{}, nil)
	require.NoError(t, err)
	require.Empty(t, app.Swapped(job, parts), "nothing is said where the file does not say which it was")

	job.Scan.SHA256, job.Reference.SHA256 = parts.Scan.SHA256, parts.Reference.SHA256
	require.Empty(t, app.Swapped(job, parts))
	data, err := os.ReadFile(job.Scan.File)
	require.NoError(t, err)
	data[0] ^= 1 // in the header: another file of the same part
	require.NoError(t, os.WriteFile(job.Scan.File, data, 0o644))
	parts, err = app.LoadParts(ctx, job, app.Settings{}, nil)
	require.NoError(t, err)
	said := strings.Join(parts.Notes, "\n")
	require.Contains(t, said, "scan: scan.stl is another file than the one this job was saved with")
	require.NotContains(t, said, "reference.stl is another file")
	require.Contains(t, said, job.Scan.SHA256[:12])
}
