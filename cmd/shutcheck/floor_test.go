//go:build linux && amd64

package main

import (
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// The program as it is handed out says in one sentence that too few addresses are left, whatever the limit, Go's runtime would
// survive it or not; above the floor it runs. What leaves no room for the program itself is the kernel's to refuse.
func TestFewAddressesAreSaid(t *testing.T) {
	program := filepath.Join(t.TempDir(), "shutcheck")
	out, err := exec.Command("go", "build", "-trimpath", "-ldflags=-E=shutcheck_entry", "-o", program, ".").CombinedOutput()
	require.NoError(t, err, string(out))
	for _, mega := range []int{60, 200, 500, 800, 1000, 1200, 1300, 1500, 1999} {
		out, err := exec.Command("sh", "-c", fmt.Sprintf("ulimit -v %d && exec %s --version", mega*1000*1000/1024, program)).CombinedOutput()
		var exit *exec.ExitError
		require.True(t, errors.As(err, &exit), "%d MB: %s", mega, out)
		require.Equal(t, exitSystem, exit.ExitCode(), "%d MB: %s", mega, out)
		said := fmt.Sprintf("shutcheck: addresses are limited to %d MB (ulimit -v), and it does not start with less than 2000 MB, most of which stay unused: take the limit away with ulimit -v unlimited, or raise it\n",
			mega*1000*1000/1024*1024/1e6)
		require.Equal(t, said, string(out))
	}
	for _, limit := range []string{"2100000", "unlimited"} {
		out, err = exec.Command("sh", "-c", "ulimit -v "+limit+" && exec "+program+" --version").CombinedOutput()
		require.NoError(t, err, string(out))
		require.Contains(t, string(out), "shutcheck ")
		require.NotContains(t, string(out), "limited")
	}
	// Linked in any other way it says the same wherever Go's runtime comes as far.
	plain := filepath.Join(t.TempDir(), "shutcheck")
	out, err = exec.Command("go", "build", "-trimpath", "-o", plain, ".").CombinedOutput()
	require.NoError(t, err, string(out))
	a, _ := exec.Command("sh", "-c", "ulimit -v 1900000 && exec "+program+" --version").CombinedOutput()
	b, _ := exec.Command("sh", "-c", "ulimit -v 1900000 && exec "+plain+" --version").CombinedOutput()
	require.Equal(t, string(a), string(b))
}
