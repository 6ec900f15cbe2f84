//go:build unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// built builds the command without a C compiler.
func built(t *testing.T) string {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "shutcheck")
	build := exec.Command("go", "build", "-o", bin, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	return bin
}

func TestBuiltCommand(t *testing.T) {
	bin := built(t)
	t.Run("version", func(t *testing.T) {
		out, err := exec.Command(bin, "--version").Output()
		require.NoError(t, err)
		require.Contains(t, string(out), "shutcheck ")
	})
	t.Run("closed pipe", func(t *testing.T) {
		r, w, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, r.Close())
		cmd := exec.Command(bin, "--help")
		cmd.Stdout = w
		require.NoError(t, cmd.Run(), "a reader that went away is no failure")
	})
	for _, signal := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
		t.Run(signal.String(), func(t *testing.T) { interrupted(t, bin, signal) })
	}
}

// interrupted signals a run that has begun to prepare its results.
func interrupted(t *testing.T, bin string, signal syscall.Signal) {
	dir := job(t, jobHead)
	cmd := exec.Command(bin, "inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "r"), "--threads", "1")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool { // until results are being prepared
		entries, err := os.ReadDir(dir)
		return err == nil && len(entries) > 3
	}, time.Minute, time.Millisecond)
	require.NoError(t, cmd.Process.Signal(signal))
	var exit *exec.ExitError
	require.ErrorAs(t, cmd.Wait(), &exit)
	require.Equal(t, 130, exit.ExitCode(), errs.String())
	require.Equal(t, "shutcheck: interrupted; nothing was written\n", errs.String())
	require.Equal(t, []string{"job.toml", "reference.stl", "scan.stl"}, files(t, dir))
}
