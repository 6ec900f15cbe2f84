package bench_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What a program that was killed while it saved left beside the job goes when the job is opened or saved; what may still
// be written to, and what is not ours, stays.
func TestWhatAKilledSaveLeftIsRemoved(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "van.toml")
	require.NoError(t, os.WriteFile(path, []byte("title = van\n"), 0o644))
	old, now := time.Now().Add(-time.Hour), time.Now()
	lay := func(name string, when time.Time) string {
		file := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(file, []byte("half"), 0o644))
		require.NoError(t, os.Chtimes(file, when, when))
		return file
	}
	// What the save makes beside the file has such a name.
	made, err := os.CreateTemp(dir, ".shutline-*.toml")
	require.NoError(t, err)
	require.NoError(t, made.Close())
	require.NoError(t, os.Chtimes(made.Name(), old, old))
	stay := []string{lay(".shutline-2.toml", now), lay(".shutline-mine.toml", old), lay(".shutline-3.toml.txt", old), lay("other.toml", old)}
	folder := filepath.Join(dir, ".shutline-4.toml")
	require.NoError(t, os.Mkdir(folder, 0o755))
	require.NoError(t, os.Chtimes(folder, old, old))

	r := newRig(t)
	r.job = fileJob(path)
	r.bench.Open(path)
	r.settle()
	require.Empty(t, r.faults)
	require.NoFileExists(t, made.Name())

	lay(filepath.Base(made.Name()), old)
	require.NoError(t, r.bench.Save(path))
	r.settle()
	require.NoFileExists(t, made.Name())
	for _, f := range stay {
		require.FileExists(t, f)
	}
	require.DirExists(t, folder)
}
