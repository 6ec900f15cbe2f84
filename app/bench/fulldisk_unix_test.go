//go:build unix

package bench_test

import (
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
)

// onFullDisk makes the test run in a program of its own: the limit holds for every file of
// a program, and the one that runs the tests writes files too.
const onFullDisk = "SHUTLINE_TEST_FULL_DISK"

// withFullDisk lets no file of this program grow beyond 4 kB meanwhile, as a full disk
// would; the system's answer is another word for it.
func withFullDisk(t *testing.T, do func() error) error {
	t.Helper()
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	var before syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &before))
	require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 4096, Max: before.Max}))
	defer func() { require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &before)) }()
	return do()
}

func TestAFullDiskLosesNothing(t *testing.T) {
	if os.Getenv(onFullDisk) == "" {
		self, err := os.Executable()
		require.NoError(t, err)
		alone := exec.Command(self, "-test.run=^TestAFullDiskLosesNothing$", "-test.v")
		alone.Env = append(os.Environ(), onFullDisk+"=1")
		out, err := alone.CombinedOutput()
		require.NoError(t, err, string(out))
		require.Contains(t, string(out), "--- PASS: TestAFullDiskLosesNothing")
		return
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "van.toml")
	require.NoError(t, os.WriteFile(path, []byte("title = van\n"), 0o644))
	r := newRig(t)
	r.job = fileJob(path)
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = strings.Repeat("long", 50_000) })
	r.settle()
	before := r.bench.Job()
	err := withFullDisk(t, func() error { return r.bench.Save(path) })
	var refused *bench.SaveError
	require.ErrorAs(t, err, &refused)
	require.ErrorIs(t, err, syscall.EFBIG)
	require.Contains(t, err.Error(), path+" cannot be written: file too large. Nothing is lost")
	require.NotContains(t, err.Error(), ".shutline-", "the file beside it is our own affair")
	require.Same(t, before, r.bench.Job())
	require.True(t, r.bench.Dirty())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "title = van\n", string(data))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 1, "nothing is left beside it")
	require.NoError(t, r.bench.Save(path), "and it can be tried again")
}
