//go:build unix

package bench_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
)

// A save writes what a link leads to, leaves to the file who may read it, and leaves alone one that nobody may write.
func TestASaveLeavesLinksAndPermissionsAsTheyAre(t *testing.T) {
	r := newRig(t)
	dir := t.TempDir()
	file, link := filepath.Join(dir, "shared", "van.toml"), filepath.Join(dir, "van.toml")
	require.NoError(t, os.Mkdir(filepath.Dir(file), 0o755))
	require.NoError(t, os.WriteFile(file, []byte("title = van\n"), 0o600))
	require.NoError(t, os.Symlink(filepath.Join("shared", "van.toml"), link))
	r.job.Path = link
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	require.NoError(t, r.bench.Save(link))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	require.Equal(t, fs.ModeSymlink, info.Mode().Type(), "the link is one still")
	info, err = os.Stat(file)
	require.NoError(t, err)
	require.Equal(t, fs.FileMode(0o600), info.Mode().Perm(), "nobody else reads it")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "title = second\n", string(text))
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	require.Len(t, left, 1)

	require.NoError(t, os.Chmod(file, 0o444))
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "third" })
	err = r.bench.Save(link)
	var refused *bench.SaveError
	require.ErrorAs(t, err, &refused)
	require.ErrorContains(t, err, "van.toml cannot be written: permission denied. Nothing is lost")
	text, err = os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "title = second\n", string(text))

	err = r.bench.Save(filepath.Join(dir, "gone", "van.toml"))
	require.ErrorContains(t, err, "van.toml cannot be written: its folder is not there. Nothing is lost")
	require.True(t, r.bench.Dirty())
}
