package ui

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestATypedNameLiesBesideTheProposedFile(t *testing.T) {
	dir := t.TempDir()
	require.Equal(t, filepath.Join(dir, "other.toml"), besideOf(filepath.Join(dir, "job.toml"), "other.toml"))
	whole := filepath.Join(t.TempDir(), "far.toml")
	require.Equal(t, whole, besideOf(filepath.Join(dir, "job.toml"), whole))
}
