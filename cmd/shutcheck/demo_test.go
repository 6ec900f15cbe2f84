package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

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
